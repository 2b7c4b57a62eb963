package catalogue

import "fmt"

// FieldError is one wrong field of a value, by its path: "sites[2].access.weekly[0]".
type FieldError struct {
	Path   string `json:"path"`
	Reason string `json:"reason"` // stable, UPPER_SNAKE
	Text   string `json:"text"`   // what is wrong and what would be right
}

// Error writes path and text.
func (e FieldError) Error() string { return e.Path + ": " + e.Text }

// The reasons that values of this package and of package site are refused for. An UNKNOWN_ reason is
// followed by the noun that the field names.
const (
	ReasonMissing             = "MISSING"
	ReasonDuplicate           = "DUPLICATE"
	ReasonOutOfRange          = "OUT_OF_RANGE"
	ReasonWindow              = "WINDOW_INVALID"
	ReasonContradiction       = "CONTRADICTION"
	ReasonRegistrationMissing = "REGISTRATION_MISSING"
	ReasonRateMissing         = "MAX_RATE_MISSING"
	ReasonRateInvalid         = "RATE_INVALID"
	ReasonMinAboveMax         = "MIN_ABOVE_MAX"
	ReasonPortionMissing      = "MAX_PORTION_MISSING"
	ReasonPortionInvalid      = "PORTION_INVALID"
	ReasonPackInvalid         = "PACK_INVALID"
	ReasonEntryHours          = "ENTRY_HOURS_MISSING"
	ReasonEntryReason         = "ENTRY_REASON_MISSING"
	ReasonUnknownEntry        = "UNKNOWN_ENTRY"
	ReasonUnknownForm         = "UNKNOWN_FORM"
	ReasonUnknownMaterial     = "UNKNOWN_MATERIAL"
	ReasonUnknownPest         = "UNKNOWN_PEST"
	ReasonUnknownSpecies      = "UNKNOWN_SPECIES"
	ReasonUnknownPlace        = "UNKNOWN_PLACE"
	ReasonUnknownThing        = "UNKNOWN_SENSITIVE_THING"
	ReasonUnknownMethod       = "UNKNOWN_METHOD"
	ReasonUnknownVerdict      = "UNKNOWN_VERDICT"
	ReasonUnknownStanding     = "UNKNOWN_STANDING"
	ReasonUnknownJurisdiction = "UNKNOWN_JURISDICTION"
	ReasonUnknownCategory     = "UNKNOWN_CATEGORY"
	ReasonUnknownArea         = "UNKNOWN_AREA"
	ReasonUnknownPlanter      = "UNKNOWN_PLANTER"
	ReasonUnknownOwner        = "UNKNOWN_OWNER"
	ReasonUnknownService      = "UNKNOWN_SERVICE"
)

// FieldErrors collects what is wrong with a value, in the order of its fields.
type FieldErrors []FieldError

// Add puts a wrong field on the list.
func (l *FieldErrors) Add(path, reason, format string, args ...any) {
	*l = append(*l, FieldError{Path: path, Reason: reason, Text: fmt.Sprintf(format, args...)})
}

// AddUnder puts the wrong fields of a value on the list of the one that holds it under a path.
func (l *FieldErrors) AddUnder(path string, inner []FieldError) {
	for _, e := range inner {
		e.Path = path + "." + e.Path
		*l = append(*l, e)
	}
}

// AddMissing puts a field on the list when its text is empty.
func (l *FieldErrors) AddMissing(path, text string) {
	if text == "" {
		l.Add(path, ReasonMissing, "missing: want a text that is not empty")
	}
}

// AddUnknown puts a field on the list when an error, such as that of a look-up, is there.
func (l *FieldErrors) AddUnknown(path, reason string, err error) {
	if err != nil {
		l.Add(path, reason, "%v", err)
	}
}

// AddStrange puts a field on the list when its word is not among those known.
func AddStrange[T ~string](l *FieldErrors, path, reason string, word T, known []T) {
	for _, k := range known {
		if k == word {
			return
		}
	}
	l.Add(path, reason, "%q is not known: want one of %s", string(word), oneOf(known))
}
