package main

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
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
	slices.Sort(files)
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

// file is the name of the best-known values beside or above instances.
const file = "best_known.csv"

// knownFile finds the best-known values: the file given, or the nearest beside or above the instances.
func knownFile(s settings) (string, error) {
	if s.known != "" {
		return s.known, nil
	}
	from := s.all
	if from == "" {
		from = filepath.Dir(s.files[0])
	}
	dir, err := filepath.Abs(from)
	if err != nil {
		return "", fmt.Errorf("best-known values: %w", err)
	}
	for {
		if path := filepath.Join(dir, file); exists(path) {
			return path, nil
		}
		above := filepath.Dir(dir)
		if above == dir {
			return "", fmt.Errorf("best-known values: no %s lies in %s or above it: want it there, or named by --best-known", file, from)
		}
		dir = above
	}
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// readKnown reads the best-known values by instance, in lower case.
func readKnown(path string, o vrptw.Options) (map[string]known, error) {
	reader, err := os.Open(filepath.Clean(path))
	if err != nil {
		return nil, fmt.Errorf("best-known values: %w", err)
	}
	defer func() { _ = reader.Close() }()
	rows, err := csv.NewReader(reader).ReadAll()
	if err != nil {
		return nil, fmt.Errorf("best-known values: %s: %w", path, err)
	}
	if len(rows) == 0 {
		return nil, fmt.Errorf("best-known values: %s is empty", path)
	}
	vehicles, distance := columns(o)
	v, d := slices.Index(rows[0], vehicles), slices.Index(rows[0], distance)
	if v < 0 || d < 0 {
		return nil, fmt.Errorf("best-known values: %s: want columns %s and %s after the instance's name, got %s", path, vehicles, distance, strings.Join(rows[0], ", "))
	}
	best := map[string]known{}
	for i, row := range rows[1:] {
		var k known
		if err := errors.Join(number(row[v], strconv.Atoi, &k.vehicles), number(row[d], float, &k.distance)); err != nil {
			return nil, fmt.Errorf("best-known values: %s: row %d: %w", path, i+2, err)
		}
		best[strings.ToLower(row[0])] = k
	}
	return best, nil
}

// number reads a field that may be empty.
func number[N int | float64](text string, read func(string) (N, error), into *N) (err error) {
	if text != "" {
		*into, err = read(text)
	}
	return err
}

func float(text string) (float64, error) { return strconv.ParseFloat(text, 64) }

// tally sums up a table.
type tally struct {
	sum, worst      float64
	compared, asFew int
}

// table prints a row for each instance and the means: gaps count only where the vehicles are as many as known, or do not matter. An
// instance that cannot be read or served has no row; the error tells of it at the end.
func table(s settings, stdout io.Writer) error {
	path, err := knownFile(s)
	if err != nil {
		return err
	}
	best, err := readKnown(path, s.options)
	if err != nil {
		return err
	}
	fmt.Fprintf(stdout, "%-12s %8s %6s %12s %12s %8s\n", "instance", "vehicles", "known", "distance", "known", "gap %")
	var all tally
	var wrong []error
	for _, file := range s.files {
		_, answer, err := solve(file, s.options)
		if err != nil {
			wrong = append(wrong, err)
			continue
		}
		name := strings.TrimSuffix(filepath.Base(file), filepath.Ext(file))
		all.row(stdout, name, answer, best[strings.ToLower(name)], s.options.Fewest)
	}
	if all.compared > 0 {
		fmt.Fprintf(stdout, "mean gap %.3f %%, worst %.3f %%, of %d compared\n", all.sum/float64(all.compared), all.worst, all.compared)
	}
	if s.options.Fewest {
		fmt.Fprintf(stdout, "no more vehicles than known in %d of %d\n", all.asFew, len(s.files))
	}
	return errors.Join(wrong...)
}

// row prints one instance and counts it.
func (all *tally) row(stdout io.Writer, name string, answer vrptw.Answer, k known, fewest bool) {
	vehicles, distance, gap := "-", "-", "-"
	if k.vehicles > 0 {
		vehicles = strconv.Itoa(k.vehicles)
		if len(answer.Routes) <= k.vehicles {
			all.asFew++
		}
	}
	if k.distance > 0 {
		distance = fmt.Sprintf("%.2f", k.distance)
		if !fewest || len(answer.Routes) == k.vehicles {
			percent := math.Round(1e5*(answer.Cost/k.distance-1)) / 1e3
			gap = fmt.Sprintf("%.3f", percent+0) // a gap of -0 is 0
			if all.compared == 0 || percent > all.worst {
				all.worst = percent
			}
			all.sum, all.compared = all.sum+percent, all.compared+1
		}
	}
	fmt.Fprintf(stdout, "%-12s %8d %6s %12.2f %12s %8s\n", name, len(answer.Routes), vehicles, answer.Cost, distance, gap)
}
