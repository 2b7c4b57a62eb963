package course

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"vernation/scheduler/catalogue"
	"vernation/scheduler/site"
)

func compare(x, y float64) int {
	switch {
	case x < y:
		return -1
	case x > y:
		return 1
	}
	return 0
}

// words writes an identifier such as "common-practice" for people.
func words(id string) string { return strings.ReplaceAll(id, "-", " ") }

// number writes with at most so many decimals and without trailing zeros.
func number(value float64, decimals int) string {
	text := strconv.FormatFloat(value, 'f', decimals, 64)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	return text
}

func celsiusText(celsius float64) string { return number(celsius, 2) + " °C" }

// atText is "at 18 °C and at 24 °C", the coldest and the warmest of a season.
func atText(season site.Season) string {
	if season.Coldest == season.Warmest {
		return "at " + celsiusText(season.Coldest)
	}
	return fmt.Sprintf("at %s and at %s", celsiusText(season.Coldest), celsiusText(season.Warmest))
}

func daysText(days float64) string {
	switch {
	case math.IsInf(days, 1):
		return "no end"
	case days == 1:
		return "1 day"
	}
	return number(days, 2) + " days"
}

// durationText writes hours and minutes: "3 h", "4 h 30 min", "32 min".
func durationText(d time.Duration) string {
	hours, minutes := int(d.Hours()), int(math.Ceil((d % time.Hour).Minutes()))
	switch {
	case hours == 0:
		return fmt.Sprintf("%d min", minutes)
	case minutes == 0:
		return fmt.Sprintf("%d h", hours)
	}
	return fmt.Sprintf("%d h %d min", hours, minutes)
}

func percentText(share float64) string { return number(share*100, 1) + " %" }

func plural(count int, noun string) string {
	switch {
	case count == 1:
		return "1 " + noun
	case strings.HasSuffix(noun, "ch") || strings.HasSuffix(noun, "sh"):
		return fmt.Sprintf("%d %ses", count, noun)
	}
	return fmt.Sprintf("%d %ss", count, noun)
}

// listText joins words as a person would: "a, b and c".
func listText(all []string) string {
	if len(all) < 2 {
		return strings.Join(all, "")
	}
	return strings.Join(all[:len(all)-1], ", ") + " and " + all[len(all)-1]
}

func plantName(p site.Plant) string {
	if p.Name != "" {
		return p.Name
	}
	return string(p.ID)
}

func plantNames(plants []site.Plant) string {
	names := make([]string, len(plants))
	for i, p := range plants {
		names[i] = plantName(p)
	}
	return listText(names)
}

func stageNames(pest catalogue.Pest, ids []catalogue.StageID) string {
	names := make([]string, 0, len(ids))
	for _, id := range ids {
		stage, _ := pest.Stage(id)
		names = append(names, stage.Name)
	}
	if len(names) == 0 {
		return "none"
	}
	return listText(names)
}
