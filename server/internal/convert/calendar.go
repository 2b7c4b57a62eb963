package convert

import (
	"fmt"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/civil"
)

// Window writes a stretch of the day.
func Window(w civil.Window) *vernationv1.Window {
	return &vernationv1.Window{Opens: w.Opens.String(), Closes: w.Closes.String()}
}

// Windows writes stretches of the day.
func Windows(list []civil.Window) []*vernationv1.Window { return each(list, Window) }

// Calendar writes when something is open; a calendar that is never open has nothing set.
func Calendar(c civil.Calendar) *vernationv1.Calendar {
	return &vernationv1.Calendar{
		Always: c.Always,
		Weekly: each(c.Weekly, func(w civil.Weekly) *vernationv1.WeeklyWindow {
			return &vernationv1.WeeklyWindow{Days: weekdays.enums(w.Days), Window: Window(w.Window)}
		}),
		Exceptions: each(c.Exceptions, func(e civil.Exception) *vernationv1.DatedException {
			return &vernationv1.DatedException{On: e.On.String(), Windows: Windows(e.Windows)}
		}),
	}
}

// openedCalendar writes a calendar; nil where it is never open.
func openedCalendar(c civil.Calendar) *vernationv1.Calendar {
	if !c.Always && len(c.Weekly) == 0 && len(c.Exceptions) == 0 {
		return nil
	}
	return Calendar(c)
}

func (r *reading) window(path string, m *vernationv1.Window) civil.Window {
	return civil.Window{Opens: r.clock(path+".opens", m.GetOpens()), Closes: r.clock(path+".closes", m.GetCloses())}
}

func (r *reading) windows(path string, list []*vernationv1.Window) []civil.Window {
	return eachAt(path, list, r.window)
}

func (r *reading) calendar(path string, m *vernationv1.Calendar) civil.Calendar {
	return civil.Calendar{
		Always: m.GetAlways(),
		Weekly: eachAt(path+".weekly", m.GetWeekly(), func(path string, w *vernationv1.WeeklyWindow) civil.Weekly {
			return civil.Weekly{Days: weekdays.wordsOf(w.GetDays()), Window: r.window(path+".window", w.GetWindow())}
		}),
		Exceptions: eachAt(path+".exceptions", m.GetExceptions(), func(path string, e *vernationv1.DatedException) civil.Exception {
			return civil.Exception{On: r.date(path+".on", e.GetOn()), Windows: r.windows(path+".windows", e.GetWindows())}
		}),
	}
}

// eachAt converts a list whose items have paths; nil stays nil.
func eachAt[From, To any](path string, list []From, one func(path string, value From) To) []To {
	if list == nil {
		return nil
	}
	converted := make([]To, len(list))
	for i, value := range list {
		converted[i] = one(fmt.Sprintf("%s[%d]", path, i), value)
	}
	return converted
}
