package sampling

// TreatmentName names a treatment by its active ingredient and the way it is
// given, such as oxalic acid by vapour. The zero value means "none said".
type TreatmentName struct {
	Active      string
	Application string
}
