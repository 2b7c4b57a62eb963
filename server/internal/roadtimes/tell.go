package roadtimes

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"golang.org/x/sync/errgroup"

	"vernation/server/internal/firm"
)

// Bounds of one Tell.
const (
	mostAtOnce     = 4     // requests
	refusalsInVain = 200   // before the first answer
	refusalsInAll  = 5_000 // after it
)

// Wanted are ways that somebody wants to know: from one point to each of others.
type Wanted struct {
	From firm.RoadPoint
	To   []firm.RoadPoint
}

// Told are the ways that a service told, by origin and destination; firm.NoRoad where it knows none.
type Told map[firm.RoadPoint]map[firm.RoadPoint]firm.RoadTime

// Tell asks for ways in blocks of origins that want the same destinations. A block that the service refuses (a point far from
// any road, too far a way, more points than it allows) is asked again in halves; a single way that it refuses has no road.
//
// What was told before a failure is returned with it. It fails with ErrSilent, ErrAway, ErrFails, ErrUnreadable or ErrRefusesAll.
func (s *Service) Tell(ctx context.Context, wanted []Wanted) (Told, error) {
	told := Told{}
	refusals, answered := 0, false
	for wave := s.blocks(wanted); len(wave) > 0; {
		refused, err := s.tellWave(ctx, wave, told)
		if err != nil {
			return told, err
		}
		refusals, answered = refusals+len(refused), answered || len(refused) < len(wave)
		if refusals > refusalsInAll || refusals > refusalsInVain && !answered {
			return told, fmt.Errorf("%w: %d requests refused, the last: %w", ErrRefusesAll, refusals, refused[len(refused)-1].cause)
		}
		wave = nil
		for _, r := range refused {
			wave = append(wave, r.halves(told)...)
		}
	}
	return told, nil
}

// refusal is a block that the service does not take.
type refusal struct {
	block
	cause error
}

// tellWave asks for blocks, several at once, and returns those that were refused, in their order.
func (s *Service) tellWave(ctx context.Context, wave []block, told Told) ([]refusal, error) {
	answers := make([][]firm.RoadTime, len(wave))
	causes := make([]error, len(wave))
	group, asking := errgroup.WithContext(ctx)
	group.SetLimit(mostAtOnce)
	for i, b := range wave {
		group.Go(func() error {
			if asking.Err() != nil {
				return nil // another failed
			}
			answer, err := s.ask(asking, b)
			if errors.Is(err, errRefused) {
				causes[i], err = err, nil
			}
			answers[i] = answer
			return err
		})
	}
	err := group.Wait()
	var refused []refusal
	for i, b := range wave {
		if causes[i] != nil {
			refused = append(refused, refusal{b, causes[i]})
		}
		for at, time := range answers[i] {
			told.put(b.from[at/len(b.to)], b.to[at%len(b.to)], time)
		}
	}
	if err == nil && ctx.Err() != nil {
		err = fmt.Errorf("%w: %w", ErrSilent, ctx.Err())
	}
	return refused, err
}

func (t Told) put(from, to firm.RoadPoint, time firm.RoadTime) {
	if t[from] == nil {
		t[from] = map[firm.RoadPoint]firm.RoadTime{}
	}
	t[from][to] = time
}

// halves parts the longer side of a block; a single way that was refused is told to have no road.
func (b block) halves(told Told) []block {
	switch half := max(len(b.from), len(b.to)) / 2; {
	case half == 0:
		told.put(b.from[0], b.to[0], firm.NoRoad)
		return nil
	case len(b.from) >= len(b.to):
		return []block{{b.from[:half], b.to}, {b.from[half:], b.to}}
	default:
		return []block{{b.from, b.to[:half]}, {b.from, b.to[half:]}}
	}
}

// blocks cuts what is wanted into requests. Origins that follow one another and want the same go together.
func (s *Service) blocks(wanted []Wanted) []block {
	var blocks []block
	for len(wanted) > 0 {
		same := 1
		for same < len(wanted) && slices.Equal(wanted[same].To, wanted[0].To) {
			same++
		}
		from := make([]firm.RoadPoint, same)
		for i, w := range wanted[:same] {
			from[i] = w.From
		}
		for rows := range slices.Chunk(from, s.cfg.Side) {
			for columns := range slices.Chunk(wanted[0].To, s.cfg.Side) {
				blocks = append(blocks, block{rows, columns})
			}
		}
		wanted = wanted[same:]
	}
	return blocks
}
