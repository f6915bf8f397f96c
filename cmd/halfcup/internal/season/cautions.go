package season

// treatmentCautions are what could hurt somebody with a treatment, by its slug.
// The table of cautions says them once it is here; until then every answer that
// names a treatment has the one that holds for all.
func treatmentCautions(string) []string { return nil }
