package firm

import (
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
)

// SettingPart says what a setting is for.
type SettingPart string

// The parts of a policy.
const (
	CourseSetting SettingPart = "course" // what courses are computed with
	PriceSetting  SettingPart = "price"  // what the weighed terms of a plan cost
	RuleSetting   SettingPart = "rule"   // notices, breaks, mixing and rinsing
)

// Setting is one number of a business's policy beside its default.
type Setting struct {
	Name  string
	Part  SettingPart
	Value float64 // in the unit of the default
	// Own says that the value is not the default.
	Own      bool
	Standing catalogue.Standing // of the value
	Default  catalogue.Figure
	// Least and Greatest bound what the business may set.
	Least, Greatest float64
}

// Policy is all that a business sets itself.
type Policy struct {
	Version int64
	// Name, Currency and Zone are the business's and no setting.
	Name     string
	Currency string
	Zone     civil.Zone
	Settings []Setting // by name
	// Extents and DefaultExtents say on what a treatment goes, by severity 0 to 3.
	Extents, DefaultExtents []catalogue.Extent
	PoisonLine              string
	EmergencyLine           string
	DetourPercent           int
	SpeedKMH                int
	// NoticesCountOnceSent: publishing a visit does not count as sending its notices.
	NoticesCountOnceSent bool
}

// SettingChange gives a setting another value; nil is its default.
type SettingChange struct {
	Name  string
	Value *float64 // in the unit of the default
}

// PolicyChange changes a policy; what is nil or not named stays as it is.
type PolicyChange struct {
	Settings      []SettingChange
	Extents       []catalogue.Extent // by severity 0 to 3
	PoisonLine    *string
	EmergencyLine *string
	DetourPercent *int
	SpeedKMH      *int

	NoticesCountOnceSent *bool
}
