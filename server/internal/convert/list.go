package convert

import (
	"google.golang.org/protobuf/reflect/protoreflect"

	"vernation/server/internal/listing"
)

// text declares a field of a list that holds a text.
func text(name string) listing.Field { return listing.Field{Name: name} }

// named declares a field of a list that holds a resource name: it is compared, and put in order, by its last id.
func named(name string) listing.Field {
	return listing.Field{Name: name, Stored: func(told string) string { return ID[string](told) }}
}

// truth declares a field of a list that is true or false.
func truth(name string) listing.Field { return listing.Field{Name: name, Kind: listing.Truth} }

// deleteTime is the field of when something was deleted.
var deleteTime = listing.Field{Name: "delete_time", Kind: listing.Instant, Unordered: true}

// enumValue is a value of an enum of the contract.
type enumValue interface {
	~int32
	protoreflect.Enum
}

// word declares a field of a list that holds a value of an enum.
func word[E enumValue, W ~string](name string, in table[E, W]) listing.Field {
	var none E
	return listing.Field{Name: name, Kind: listing.Word, Enum: none.Type(), Stored: func(told string) string {
		return string(in.word(E(none.Descriptor().Values().ByName(protoreflect.Name(told)).Number())))
	}}
}

// moment declares a field of a list that holds an instant which is always set.
func moment(name string) listing.Field { return listing.Field{Name: name, Kind: listing.Instant} }

// The lists of what was seen, told and asked, the latest first where no order is told.
var (
	// FindingList declares by what findings may be filtered and put in order.
	FindingList = listing.Declare(
		findingName, named("site"), named("case"), text("pest"), word("certainty", certainties), word("life", lives),
		listing.Field{Name: "severity", Kind: listing.Number}, truth("corrected"), moment("seen_time"), moment("create_time"),
	).By("seen_time desc")
	// CaseList declares by what cases may be filtered and put in order.
	CaseList = listing.Declare(
		named(listing.NameField), named("site"), text("pest"), plantNames, truth("open"), word("ending", endingKinds), named("recurrence_of"),
		moment("create_time"), listing.Field{Name: "end_time", Kind: listing.Instant, Unordered: true},
	).By("create_time desc, name desc")
	// ReportList declares by what reports may be filtered and put in order.
	ReportList = listing.Declare(
		named(listing.NameField), named("site"), named("technician"), named("visit"), named("corrects"), truth("off_plan"), moment("arrived"),
		moment("left"), moment("create_time"),
	).By("arrived desc")
	// DeviationList declares by what deviations may be filtered and put in order.
	DeviationList = listing.Declare(
		named(listing.NameField), named("report"), word("rule", rules), named("site"), text("item"), truth("acknowledged"), moment("event_time"),
	).By("event_time desc, name desc")
	// IncidentList declares by what incidents may be filtered and put in order.
	IncidentList = listing.Declare(
		named(listing.NameField), named("site"), named("area"), named("product"), named("case"), word("kind", incidentKinds), truth("open"),
		moment("event_time"), moment("create_time"),
	).By("event_time desc")
	// ClientConsentList declares by what the questions to clients may be filtered and put in order.
	ClientConsentList = listing.Declare(
		named(listing.NameField), named("site"), named("case"), word("method", methods), text("material"), word("state", consentAnswers),
		text("asked_of"), moment("ask_time"),
	).By("ask_time desc")
)

// findingName is stored as histories know it.
var findingName = listing.Field{Name: listing.NameField, Stored: func(told string) string { return "finding/" + ID[string](told) }}

// plantNames are the plants of a case.
var plantNames = listing.Field{Name: "plants", Kind: listing.Texts, Unordered: true, Stored: func(told string) string { return ID[string](told) }}
