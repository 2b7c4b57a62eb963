package week_test

import (
	"fmt"
	"testing"
	"time"

	"vernation/scheduler"
	"vernation/scheduler/week"
)

func TestTry(t *testing.T) {
	for _, k := range []week.Kind{week.Large} {
		began := time.Now()
		p, err := week.New(k, 1)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Println(k, time.Since(began), len(p.Sites), len(p.FollowUps), len(p.Services), len(p.Technicians), len(p.Links), len(p.Done), len(p.Plants))
		kinds := map[scheduler.FollowUpKind]int{}
		ways := map[int]int{}
		due := map[string]int{}
		m := 0
		for _, f := range p.FollowUps {
			kinds[f.Kind]++
			ways[len(f.Ways)]++
			due[fmt.Sprint(f.Due.EarliestOn.Short(), " ", f.Due.After != "")]++
			for _, q := range f.Ways[0].Parts {
				if q.Kind != scheduler.WaitPart {
					m += int(q.Takes.Minutes())
				}
			}
		}
		sm := 0
		for _, s := range p.Services {
			for _, g := range s.Groups {
				sm += g.Minutes
			}
		}
		fmt.Println(kinds, ways, due, "hours", m/60, sm/60)
		links := map[scheduler.LinkKind]int{}
		for _, l := range p.Links {
			links[l.Kind]++
		}
		fmt.Println(links)
	}
}
