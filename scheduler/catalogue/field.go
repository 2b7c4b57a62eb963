package catalogue

// FieldError is one wrong field of a value, by its path: "sites[2].access.weekly[0]".
type FieldError struct {
	Path   string `json:"path"`
	Reason string `json:"reason"` // stable, UPPER_SNAKE
	Text   string `json:"text"`   // what is wrong and what would be right
}
