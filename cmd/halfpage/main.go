// Halfpage builds the page for the phone: one HTML file with the engine of the
// program inside, or with --site the same as a small site that a phone can put
// on its home screen.
package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
)

func main() {
	out := flag.String("out", "", "write the page into `FILE`")
	site := flag.String("site", "", "write a site into the folder `DIR`: the page, a manifest, a service worker and icons")
	flag.Parse()
	if err := run(*out, *site); err != nil {
		fmt.Fprintln(os.Stderr, "halfpage:", err)
		os.Exit(1)
	}
}

func run(out, site string) error {
	if out == "" && site == "" || flag.NArg() > 0 {
		return fmt.Errorf("say where to write: halfpage --out halfcup.html, or halfpage --site DIR")
	}
	engine, err := buildEngine()
	if err != nil {
		return err
	}
	if out != "" {
		page, err := assemble(engine, false)
		if err != nil {
			return err
		}
		if err := os.WriteFile(out, page, 0o644); err != nil {
			return err
		}
		fmt.Fprintf(os.Stderr, "%s: %d bytes\n", out, len(page))
	}
	if site == "" {
		return nil
	}
	files, err := siteFiles(engine)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(site, 0o755); err != nil {
		return err
	}
	for name, data := range files {
		if err := os.WriteFile(filepath.Join(site, name), data, 0o644); err != nil {
			return err
		}
	}
	fmt.Fprintf(os.Stderr, "%s: %d files; serve them over https\n", site, len(files))
	return nil
}
