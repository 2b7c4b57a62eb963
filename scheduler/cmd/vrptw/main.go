package main

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"time"

	"vernation/scheduler/internal/anneal"
	"vernation/scheduler/internal/vrptw"
)

func env(k string, d float64) float64 {
	if v := os.Getenv(k); v != "" {
		f, _ := strconv.ParseFloat(v, 64)
		return f
	}
	return d
}

func main() {
	best := map[string]float64{}
	f, _ := os.Open("/work/shared/bench/vrptw/best_known.csv")
	rows, _ := csv.NewReader(f).ReadAll()
	for _, r := range rows[1:] {
		best[strings.ToLower(r[0])], _ = strconv.ParseFloat(r[7], 64)
	}
	iters := int(env("ITERS", 100000))
	sum, worst, cnt := 0.0, 0.0, 0
	var mu sync.Mutex
	sem := make(chan bool, 2)
	var wg sync.WaitGroup
	var cpu time.Duration
	for _, name := range os.Args[1:] {
		wg.Add(1)
		sem <- true
		go func() {
			defer func() { <-sem; wg.Done() }()
			r, _ := os.Open(name)
			in, err := vrptw.Read(r)
			if err != nil {
				panic(err)
			}
			c := in.Compile(vrptw.Dimacs, 0)
			near := anneal.Near(c, int(env("NEAR", 100)))
			if k := int(env("PLACES", 0)); k > 0 {
				c.Near = anneal.Beside(c, k)
			}
			if k := int(env("NB", 0)); k > 0 {
				near = anneal.Beside(c, k)
			}
			for seed := 1; seed <= int(env("SEEDS", 1)); seed++ {
				t0 := time.Now()
				hot, cold := env("HOT", 100), env("COLD", 1)
				cfg := anneal.Config{Seed: uint64(seed), Removed: env("REM", 10), String: env("STR", 10), Blink: env("BLINK", 0.01), Out: 1 << 30, Hot: hot, Cold: cold}
				var cost float64
				if env("POP", 0) > 0 {
					cost = float64(anneal.Breed(c, near, cfg, int(env("POP", 0)), int(env("FIRST", 20000)), int(env("EACH", 8000)), env("WARM", 30), iters).Cost) / 10
				} else {
					s := anneal.New(c, near, cfg)
					for i := range iters {
						s.Round(hot * math.Pow(cold/hot, float64(i)/float64(iters)))
					}
					cost = float64(s.Best().Cost) / 10
				}
				el := time.Since(t0)
				key := strings.ToLower(strings.TrimSuffix(filepath.Base(name), ".txt"))
				gap := 100 * (cost/best[key] - 1)
				mu.Lock()
				cpu += el
				sum += gap
				worst = max(worst, gap)
				cnt++
				if os.Getenv("V") != "" {
					fmt.Printf("%s %d %.1f gap %.3f %.1fs\n", key, seed, cost, gap, el.Seconds())
				}
				mu.Unlock()
			}
		}()
	}
	wg.Wait()
	fmt.Printf("mean %.4f worst %.3f  its/s per core %.0f\n", sum/float64(cnt), worst, float64(iters*cnt)/cpu.Seconds())
}
