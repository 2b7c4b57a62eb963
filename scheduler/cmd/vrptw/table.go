package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"

	"vernation/scheduler/internal/vrptw"
)

// instances lists the .txt files of a folder and of those in it.
func instances(dir string) ([]string, error) {
	var files []string
	err := filepath.WalkDir(dir, func(path string, entry fs.DirEntry, err error) error {
		if err == nil && !entry.IsDir() && strings.EqualFold(filepath.Ext(path), ".txt") {
			files = append(files, path)
		}
		return err
	})
	sort.Strings(files)
	if err == nil && len(files) == 0 {
		err = fmt.Errorf("%s holds no .txt file", dir)
	}
	return files, err
}

// known is the best that is known of an instance; 0 is not known.
type known struct {
	vehicles int
	distance float64
}

// columns are where the best-known file holds what is compared, by objective and convention.
func columns(o vrptw.Options) (vehicles, distance string) {
	switch {
	case o.Fewest:
		return "hier_vehicles", "hier_distance"
	case o.Convention == vrptw.Dimacs:
		return "dimacs_vehicles", "dimacs_distance"
	}
	return "dist_vehicles", "dist_distance"
}

// readKnown reads the best-known values by instance, from the file given or the one beside the instances.
func readKnown(s settings) (map[string]known, error) {
	path := s.known
	for dir := s.all; path == "" && dir != ""; dir = filepath.Dir(dir) {
		if file := filepath.Join(dir, "best_known.csv"); exists(file) {
			path = file
		}
		if dir == filepath.Dir(dir) {
			break
		}
	}
	if path == "" && len(s.files) > 0 {
		path = filepath.Join(filepath.Dir(s.files[0]), "best_known.csv")
	}
	file, err := os.Open(filepath.Clean(path))
	if err != nil {
		return nil, fmt.Errorf("best-known values: %w", err)
	}
	defer func() { _ = file.Close() }()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil || len(rows) == 0 {
		return nil, fmt.Errorf("best-known values in %s: %w", path, err)
	}
	vehicles, distance := columns(s.options)
	at := map[string]int{}
	for i, name := range rows[0] {
		at[name] = i
	}
	best := map[string]known{}
	for _, row := range rows[1:] {
		var k known
		k.vehicles, _ = strconv.Atoi(row[at[vehicles]])
		k.distance, _ = strconv.ParseFloat(row[at[distance]], 64)
		best[strings.ToLower(row[0])] = k
	}
	return best, nil
}

func exists(file string) bool {
	_, err := os.Stat(file)
	return err == nil
}

// table prints a row for each instance and the means: gaps count only where the vehicles are as few as known, or do not matter.
func table(s settings, stdout io.Writer) error {
	best, err := readKnown(s)
	if err != nil {
		return err
	}
	fmt.Fprintf(stdout, "%-12s %8s %6s %12s %6s %8s\n", "instance", "vehicles", "known", "distance", "known", "gap %")
	sum, worst, compared, asFew := 0.0, 0.0, 0, 0
	for _, file := range s.files {
		_, answer, err := solve(file, s.options)
		if err != nil {
			return err
		}
		name := strings.TrimSuffix(filepath.Base(file), filepath.Ext(file))
		k := best[strings.ToLower(name)]
		text := "-"
		if few := k.vehicles == 0 || !s.options.Fewest || len(answer.Routes) <= k.vehicles; few && k.distance > 0 {
			asFew++
			if !s.options.Fewest || len(answer.Routes) == k.vehicles {
				gap := 100 * (answer.Cost/k.distance - 1)
				text = fmt.Sprintf("%.3f", gap)
				sum, worst, compared = sum+gap, max(worst, gap), compared+1
			}
		}
		fmt.Fprintf(stdout, "%-12s %8d %6d %12.2f %9.2f %8s\n", name, len(answer.Routes), k.vehicles, answer.Cost, k.distance, text)
	}
	if compared > 0 {
		fmt.Fprintf(stdout, "mean gap %.3f %%, worst %.3f %%, of %d compared; as few vehicles as known in %d of %d\n", sum/float64(compared), worst, compared, asFew, len(s.files))
	}
	return nil
}
