package catalogue

// The units that figures are given in. A figure in another unit than its field asks for is refused.
const (
	UnitShare       = "share"   // 0 to 1
	UnitPercent     = "percent" // whole numbers in settings
	UnitSeconds     = "seconds"
	UnitMinutes     = "minutes"
	UnitHours       = "hours"
	UnitDays        = "days"
	UnitMonths      = "months"
	UnitYears       = "years"
	UnitCelsius     = "celsius"
	UnitMillilitres = "millilitres"
	UnitCentimetres = "centimetres"
	UnitMillimetres = "millimetres"
	UnitEggs        = "eggs"
	UnitInsects     = "insects"
	UnitLooks       = "looks"
	UnitMinor       = "minor units"      // of the business's currency
	UnitMinorEach   = "minor units per " // begins a price: "minor units per visit"
	UnitOrganisms   = "organisms"        // nematodes, beetles
	UnitInsectDay   = "share of value per insect-day"
)
