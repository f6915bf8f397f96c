package show

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"strings"
	"testing"
)

// slope is a plan that tells 1 from 3 and takes most bees between.
func slope() PlanChart {
	c := PlanChart{Low: 1, High: 3, FixedBees: 600}
	for x := math.Log(0.3); x < math.Log(8); x += 0.05 {
		z := x - math.Log(1.8)
		c.Levels = append(c.Levels, math.Exp(x))
		c.Treats = append(c.Treats, 1/(1+math.Exp(-5*z)))
		c.Bees = append(c.Bees, 120+380*math.Exp(-z*z))
	}
	return c
}

func TestPlanChart(t *testing.T) {
	golden(t, "plan", Page{Width: 80}.PlanChart(slope()))
	golden(t, "plan-ascii", Page{Width: 80, ASCII: true}.PlanChart(slope()))
	golden(t, "plan-color", Page{Width: 80, Color: true}.PlanChart(slope()))
	golden(t, "plan-narrow", Page{Width: 40}.PlanChart(slope()))
	if got := (Page{Width: 80}).PlanChart(PlanChart{}); got != "" {
		t.Errorf("no levels drew %q", got)
	}
}

func TestPlanSVG(t *testing.T) {
	got := slope().SVG("stop when sure")
	for d := xml.NewDecoder(bytes.NewReader(got)); ; {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	for _, text := range []string{">stop when sure<", ">chance of treating<", ">bees taken, on average<", ">true mites per hundred bees<", ">low 1 and high 3<", ">a fixed sample that errs no more often<"} {
		if !strings.Contains(string(got), text) {
			t.Errorf("the picture does not say %q", text)
		}
	}
	if again := slope().SVG("stop when sure"); !bytes.Equal(got, again) {
		t.Error("the same plan gives two pictures")
	}
	c := slope()
	c.FixedBees = math.NaN()
	if got := c.SVG("none"); bytes.Contains(got, []byte("NaN")) || bytes.Contains(got, []byte("fixed sample")) {
		t.Errorf("without a fixed sample: %s", got)
	}
	if got := (PlanChart{}).SVG("empty"); got != nil {
		t.Errorf("no levels drew %d bytes", len(got))
	}
}
