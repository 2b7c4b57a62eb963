package route

import "math"

// Blink passes places over at random, so that a search is not always greedy (Christiaens and Vanden Berghe 2020,
// ruin and recreate by strings). Rather than one draw for each place, the distance to the next one is drawn.
type Blink struct {
	left   int32
	scale  float64 // 1 / ln(1 - rate); 0 never blinks
	random uint64
}

// Blinking sets the share of places that are passed over, and the seed of which ones.
func (s *State) Blinking(rate float64, seed uint64) {
	s.blink = Blink{random: seed | 1, left: math.MaxInt32}
	if rate > 0 {
		s.blink.scale = 1 / math.Log1p(-rate)
		s.blink.draw()
	}
}

// next says whether the next place is passed over.
func (b *Blink) next() bool {
	b.left--
	if b.left > 0 {
		return false
	}
	return b.draw()
}

// draw chooses how far the next one is; it returns whether there are any.
func (b *Blink) draw() bool {
	if b.scale == 0 {
		b.left = math.MaxInt32
		return false
	}
	// xorshift64: all that is asked of it is to be cheap and to repeat.
	b.random ^= b.random << 13
	b.random ^= b.random >> 7
	b.random ^= b.random << 17
	u := float64(b.random>>11+1) / (1 << 53)
	b.left = 1 + int32(min(math.Log(u)*b.scale, 1e6))
	return true
}
