package main

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"html"
	"image"
	"image/color"
	"image/png"
	"strings"

	"halfcup/cmd/internal/licences"
)

//go:embed page
var sources embed.FS

func source(name string) string {
	data, err := sources.ReadFile("page/" + name)
	if err != nil {
		panic(err) // it is built in
	}
	return string(data)
}

// hash is the name of an inline script or style in a content security policy.
func hash(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}

// assemble puts the page together. A page of a site may also fetch its own
// manifest and service worker; one that stands alone may fetch nothing.
func assemble(e engine, ofSite bool) ([]byte, error) {
	worker := e.runner + "\n" + source("unpack.js") + "\n" + source("worker.js")
	script := source("words.js") + "\n" + source("store.js") + "\n" + source("engine.js") + "\n" + source("page.js")
	style := source("page.css")
	for name, text := range map[string]string{"the worker": worker, "the script": script, "the style": style} {
		if strings.Contains(text, "</") {
			return nil, fmt.Errorf("%s holds </, which would end it early", name)
		}
	}
	policy := []string{
		"default-src 'none'",
		"script-src 'wasm-unsafe-eval' " + hash(script) + " " + hash(worker),
		"style-src " + hash(style),
		"img-src data:",
		"connect-src 'none'",
		"form-action 'none'",
		"base-uri 'none'",
	}
	head, workers := "", "worker-src blob:"
	if ofSite {
		head = `<link rel="manifest" href="manifest.webmanifest"><link rel="apple-touch-icon" href="icon-180.png">`
		workers += " 'self'"
		policy = append(policy, "manifest-src 'self'")
		policy[3] += " 'self'"
	}
	policy = append(policy, workers)
	return []byte(strings.NewReplacer(
		"{policy}", html.EscapeString(strings.Join(policy, "; ")),
		"{head}", head,
		"{icon}", "data:image/png;base64,"+base64.StdEncoding.EncodeToString(icon(32)),
		"{style}", style,
		"{worker}", worker,
		"{script}", script,
		"{size}", fmt.Sprint(e.size),
		"{engine}", e.packed,
	).Replace(source("page.html")) + terms()), nil
}

// terms are those under which the code in the page may be passed on: they go
// with it, as a comment at its end.
func terms() string {
	return "<!--\n" + strings.ReplaceAll(licences.Text(), "->", "- >") + "-->\n"
}

// siteFiles are the files of a site by name.
func siteFiles(e engine) (map[string][]byte, error) {
	page, err := assemble(e, true)
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(page)
	return map[string][]byte{
		"index.html":           page,
		"manifest.webmanifest": []byte(source("manifest.webmanifest")),
		"sw.js":                []byte(strings.ReplaceAll(source("sw.js"), "{version}", hex.EncodeToString(sum[:8]))),
		"icon-180.png":         icon(180),
		"icon-192.png":         icon(192),
		"icon-512.png":         icon(512),
	}, nil
}

// icon is a cup filled to half, with the line across it.
func icon(size int) []byte {
	paper, known, line := color.NRGBA{255, 255, 255, 255}, color.NRGBA{0x1f, 0x5f, 0xbf, 255}, color.NRGBA{0xb4, 0x53, 0x09, 255}
	m := image.NewNRGBA(image.Rect(0, 0, size, size))
	at := func(v float64) int { return int(v * float64(size)) }
	for y := range size {
		for x := range size {
			// The cup narrows downwards.
			slope := 0.08 * (float64(y)/float64(size) - 0.2) / 0.6
			left, right := 0.24+slope, 0.76-slope
			fx, fy := float64(x)/float64(size), float64(y)/float64(size)
			c := paper
			inside := fx >= left && fx <= right && fy >= 0.2 && fy <= 0.8
			wall := inside && (fx < left+0.05 || fx > right-0.05 || fy > 0.75)
			switch {
			case y >= at(0.47) && y < at(0.53) && fx >= 0.14 && fx <= 0.86:
				c = line
			case wall, inside && fy > 0.5:
				c = known
			}
			m.SetNRGBA(x, y, c)
		}
	}
	var out bytes.Buffer
	if err := png.Encode(&out, m); err != nil {
		panic(err) // a Buffer never fails
	}
	return out.Bytes()
}
