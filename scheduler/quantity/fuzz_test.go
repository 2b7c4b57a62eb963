package quantity_test

import (
	"testing"

	"vernation/scheduler/quantity"
)

func FuzzParseVolume_ReadsWhatItWrites(f *testing.F) {
	for _, text := range []string{"2.5 US fl oz", "5/8 US fl oz", "-600 mL", "1/3 imp gal", ".5 L", "0/1 mL", "fl oz"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		v, err := quantity.ParseVolume(text)
		if err != nil {
			return
		}
		again, err := quantity.ParseVolume(v.Exact())
		if err != nil || !again.Equal(v) || again.Unit() != v.Unit() {
			t.Errorf("%q is %s, read again as %s, %v", text, v.Exact(), again.Exact(), err)
		}
	})
}
