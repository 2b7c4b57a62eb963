package exchange

// The parts of the format that tests hold against the Go source and the documents.
var (
	RenderDocument = renderDocument
	RenderSchema   = renderSchema
)

// Words gives the known words by Go type.
func Words() map[string][]string {
	words := map[string][]string{}
	for t, list := range theFormat().words {
		words[t.String()] = list
	}
	return words
}
