package main

// settings is what a settings file can say. A field that is nil was not said.
type settings struct{}

func readSettings(string) (settings, error) { return settings{}, nil }
