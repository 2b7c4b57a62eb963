// Package dispatch turns what is published into what a technician works from: the day route with access notes, mix
// sheets, keep-outs with clock times, conditions and cautions. It decides nothing; it explains, and takes
// down what was begun and ended.
package dispatch
