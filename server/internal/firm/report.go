package firm

import (
	"strings"

	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/dilution"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
)

// Report is what really happened at a visit, planned or not. It is stored as told and never changed.
type Report struct {
	ID string `json:"id"`
	// Visit is the published visit it tells of; "" for one that no plan knows.
	Visit      scheduler.VisitID      `json:"visit,omitempty"`
	Technician scheduler.TechnicianID `json:"technician"`
	Site       site.ID                `json:"site"`
	Arrived    civil.Instant          `json:"arrived"`
	Left       civil.Instant          `json:"left"`
	Items      []ReportItem           `json:"items"`
	Findings   []course.Finding       `json:"findings,omitempty"`
	// DryConfirmed are areas found dry: people may be let in.
	DryConfirmed []DryConfirmation `json:"dry_confirmed,omitempty"`
	// RestOutcome holds for every work item of the visit that Items does not name; "" tells nothing of them.
	RestOutcome course.Outcome `json:"rest_outcome,omitempty"`
	Note        string         `json:"note,omitempty"`
	// Corrects is an earlier report that this one replaces in the history.
	Corrects string        `json:"corrects,omitempty"`
	SentAt   civil.Instant `json:"sent_at"` // the client's clock
	// ExternalID is another program's id of it, unique in the business; "" for none.
	ExternalID string `json:"external_id,omitempty"`
	// Stored by the server: when and from whom it came, and whether the visit had moved meanwhile.
	ReceivedAt civil.Instant `json:"received_at"`
	Caller     string        `json:"caller"`
	OffPlan    bool          `json:"off_plan,omitempty"`
	// Cases are those whose courses were computed anew.
	Cases []course.CaseID `json:"cases,omitempty"`
	// Follows is what follows from the outcome of each item that a plan or course knows.
	Follows []Follows `json:"follows,omitempty"`
}

// Follows is what follows from the outcome of a work item.
type Follows struct {
	Item    scheduler.ItemID `json:"item"`
	Outcome course.Outcome   `json:"outcome"`
	course.Consequence
	DueOn civil.Date `json:"due_on,omitempty"` // the first day on which it is due again; unset where it is not
}

// Told is a report as stored with what was kept beside it.
type Told struct {
	Report     Report
	Deviations []Deviation
	Records    []Record
	// Cases are those whose courses were computed anew.
	Cases []course.CaseID
}

// ReportItem is what came of one work item, or an unplanned piece of work (Item "").
type ReportItem struct {
	Item    scheduler.ItemID `json:"item,omitempty"`
	Case    course.CaseID    `json:"case,omitempty"` // of an unplanned application or inspection
	Outcome course.Outcome   `json:"outcome"`
	Began   civil.Instant    `json:"began,omitempty"`
	Ended   civil.Instant    `json:"ended,omitempty"`
	Plants  []site.PlantID   `json:"plants,omitempty"` // treated, looked at or watered; empty is all of the item
	Area    site.AreaID      `json:"area,omitempty"`
	// Application is set where a product was used; Inspection where plants were looked at.
	Application *Applied   `json:"application,omitempty"`
	Inspection  *Inspected `json:"inspection,omitempty"`
	// Kind or Service say what was done where no plan knows the item.
	Kind    scheduler.FollowUpKind `json:"kind,omitempty"`
	Service site.ServiceKind       `json:"service,omitempty"`
	// ConditionsMet are the label's conditions that were ticked; DoneCount how many of the plants were done.
	ConditionsMet []string `json:"conditions_met,omitempty"`
	DoneCount     *int     `json:"done_count,omitempty"`
	Note          string   `json:"note,omitempty"`
}

// FollowUpKind is the kind of follow-up that the item is: the second part of its id, or what the report says; "" for a service.
func (i ReportItem) FollowUpKind() scheduler.FollowUpKind {
	if parts := strings.Split(string(i.Item), "/"); len(parts) == 4 {
		return scheduler.FollowUpKind(parts[1])
	}
	return i.Kind
}

// LeftWent says where what was left of a mix went.
type LeftWent string

// Where a rest may have gone. A drain is never right; it is stored all the same and is a deviation.
const (
	NoneLeft  LeftWent = "none-left"
	OnPlants  LeftWent = "on-plants"
	TakenHome LeftWent = "taken-home"
	IntoDrain LeftWent = "drain"
	Elsewhere LeftWent = "other"
)

// Applied is an application as made.
type Applied struct {
	Product     catalogue.ProductID `json:"product"`
	Vessel      scheduler.VesselID  `json:"vessel,omitempty"`
	Concentrate quantity.Volume     `json:"concentrate"` // in the mix
	Volume      quantity.Volume     `json:"volume"`      // of the mix
	Applied     quantity.Volume     `json:"applied"`     // onto the plants
	// Mass and Organisms are what was weighed or counted into the mix; without Volume what was strewn or released.
	Mass      quantity.Mass    `json:"mass,omitzero"`
	Organisms int64            `json:"organisms,omitempty"`
	Left      *quantity.Volume `json:"left,omitempty"` // of the mix; nil is not told
	LeftWent  LeftWent         `json:"left_went,omitempty"`
	// PeoplePresent: somebody but the technician was in a shut area.
	PeoplePresent bool `json:"people_present,omitempty"`
	// LicenceNumber is the one that it was made under, as told.
	LicenceNumber string `json:"licence_number,omitempty"`
	// Celsius and HumidityPercent were measured in the area when it began; nil is not measured.
	Celsius         *float64 `json:"celsius,omitempty"`
	HumidityPercent *float64 `json:"humidity_percent,omitempty"`
}

// Dosed is the application as the dilution judges what is weighed or counted.
func (a Applied) Dosed() dilution.Dosed {
	return dilution.Dosed{Mass: a.Mass, Organisms: a.Organisms, Volume: a.Volume, Applied: a.Applied}
}

// Inspected is an inspection as made.
type Inspected struct {
	Found         []site.PlantID `json:"found,omitempty"`
	Severity      int            `json:"severity,omitempty"`
	AdultsOnCards *int           `json:"adults_on_cards,omitempty"`
}

// DryConfirmation says whether an area was found dry, and by whom.
type DryConfirmation struct {
	Area site.AreaID      `json:"area"`
	Item scheduler.ItemID `json:"item,omitempty"`
	Dry  bool             `json:"dry"` // false: still wet, it stays shut
	At   civil.Instant    `json:"at"`
	By   string           `json:"by,omitempty"`
}

// Deviation is a fact in a report that broke a rule. It is counted as what it was.
type Deviation struct {
	ID     string           `json:"id"`
	Report string           `json:"report"`
	Rule   scheduler.Rule   `json:"rule"`
	Item   scheduler.ItemID `json:"item,omitempty"`
	Site   site.ID          `json:"site"`
	At     civil.Instant    `json:"at"`
	Text   string           `json:"text"`
	// Look is set once somebody of the office has looked at it.
	Look *DeviationLook `json:"look,omitempty"`
}

// Record is the legal record of one application; never changed, only followed by a correction.
type Record struct {
	ID       string `json:"id"`
	Report   string `json:"report"`
	Corrects string `json:"corrects,omitempty"`
	// Item is the follow-up that was done; "" for an application that no plan knew.
	Item scheduler.ItemID `json:"item,omitempty"`
	// NotMade says of a correcting record that the application that it corrects was not made, and who says so; "" for
	// one that was made. Its amounts are then zero and no time of entry is set.
	NotMade  string          `json:"not_made,omitempty"`
	Case     course.CaseID   `json:"case,omitempty"`
	Client   string          `json:"client"` // what it was called
	Site     site.ID         `json:"site"`
	SiteName string          `json:"site_name"`
	Area     site.AreaID     `json:"area"`
	Plants   []RecordedPlant `json:"plants"`
	Pest     string          `json:"pest,omitempty"`

	Product      catalogue.ProductID `json:"product"`
	ProductName  string              `json:"product_name"`
	Registration string              `json:"registration"`
	LabelVersion string              `json:"label_version"`
	// CatalogueVersion names the data that the course was computed with.
	CatalogueVersion string          `json:"catalogue_version"`
	Concentrate      quantity.Volume `json:"concentrate"` // on the plants
	Applied          quantity.Volume `json:"applied"`     // finished mix on the plants
	RatePercent      string          `json:"rate_percent"`
	// Mass and Organisms are those on the plants, of what is weighed or counted.
	Mass      quantity.Mass `json:"mass,omitzero"`
	Organisms int64         `json:"organisms,omitempty"`

	Began        civil.Instant              `json:"began"`
	Ended        civil.Instant              `json:"ended"`
	EntryFrom    civil.Instant              `json:"entry_from"` // when people may enter, before any confirmation that it is dry; unset where the interval is unknown
	Technician   scheduler.TechnicianID     `json:"technician"`
	Licence      string                     `json:"licence,omitempty"`
	Supervisor   scheduler.TechnicianID     `json:"supervisor,omitempty"`
	KeepUntil    civil.Date                 `json:"keep_until"`
	Elements     []string                   `json:"elements"` // that the jurisdiction asks for
	Deviations   []string                   `json:"deviations,omitempty"`
	Jurisdiction catalogue.JurisdictionCode `json:"jurisdiction"`

	// What follows was called so and was so then; records from before they were kept leave it empty.
	ClientAddress    string               `json:"client_address,omitempty"`
	AreaName         string               `json:"area_name,omitempty"`
	PlaceKind        catalogue.PlaceKind  `json:"place_kind,omitempty"`
	TechnicianName   string               `json:"technician_name,omitempty"`
	SupervisorName   string               `json:"supervisor_name,omitempty"`
	Material         catalogue.MaterialID `json:"material,omitempty"`
	ActiveIngredient string               `json:"active_ingredient,omitempty"`
	Method           catalogue.Method     `json:"method,omitempty"`
	Form             catalogue.Form       `json:"form,omitempty"`
	Vessel           scheduler.VesselID   `json:"vessel,omitempty"`
	Zone             string               `json:"zone,omitempty"` // of the site

	// CorrectedBy is the record that corrects this one, Missing what of Elements it does not hold. They are said when it
	// is read and never stored.
	CorrectedBy string   `json:"corrected_by,omitempty"`
	Missing     []string `json:"missing,omitempty"`
}

// RecordedPlant is a plant of a record with its count.
type RecordedPlant struct {
	Plant   site.PlantID        `json:"plant"`
	Species catalogue.SpeciesID `json:"species"`
	Count   int                 `json:"count"`
}

// Notice is what a client or the people in a building must be told before an application.
type Notice struct {
	ID     string           `json:"id"`
	Item   scheduler.ItemID `json:"item"`
	Site   site.ID          `json:"site"`
	Begins civil.Instant    `json:"begins"`
	DueAt  civil.Instant    `json:"due_at"` // latest sending
	SentAt civil.Instant    `json:"sent_at,omitempty"`
	Known  bool             `json:"known"` // false: no published lead is known, policy's holds
	Used   bool             `json:"used,omitempty"`
}
