package decide

import (
	"testing"

	"halfcup/internal/long"
)

func TestMain(m *testing.M) { long.Main(m, 6, 25) }
