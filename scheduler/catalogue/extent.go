package catalogue

// Extent is on what a treatment goes at a severity of what is seen.
type Extent string

// The extents, from the least to the most.
const (
	ExtentSpot       Extent = "spot"       // the infested parts: by hand, a swab or a spot spray
	ExtentWhole      Extent = "whole"      // every plant of the case, whole
	ExtentTouching   Extent = "touching"   // the same and the plants that touch one of them
	ExtentNeighbours Extent = "neighbours" // the same and all neighbours: those that touch, or stand in the same area
	ExtentRemoval    Extent = "removal"    // the plants of the case are replaced, unless people decide to treat them
)

// Extents lists every extent, from the least to the most.
var Extents = [...]Extent{ExtentSpot, ExtentWhole, ExtentTouching, ExtentNeighbours, ExtentRemoval}

// ExtentDefaults maps severity to extent for a business that has set no mapping of its own.
type ExtentDefaults struct {
	BySeverity []Extent `yaml:"extents"` // by severity 0 to 3
	Standing   Standing `yaml:"standing"`
	Note       string   `yaml:"note,omitempty"`
}

// severities is how many there are: 0 to 3.
const severities = 4

// checkExtents judges the default mapping: one known extent for each severity, with its standing.
func (c *checker) checkExtents(data ExtentDefaults) {
	t := trail{"extent_by_severity"}
	if len(data.BySeverity) != severities {
		c.fail(t.at("extents"), "%d values: want one for each severity, 0 to %d", len(data.BySeverity), severities-1)
	}
	for i, extent := range data.BySeverity {
		one(c, t.at("extents", i), "extent", extent, Extents[:])
	}
	c.standing(t, data.Standing, "")
}
