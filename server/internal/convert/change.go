package convert

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"strconv"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/course"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
)

var changeNouns = tableOf(map[vernationv1.ChangeNoun]firm.Noun{
	vernationv1.ChangeNoun_CHANGE_NOUN_CASE:               firm.NounCase,
	vernationv1.ChangeNoun_CHANGE_NOUN_COURSE:             firm.NounCourse,
	vernationv1.ChangeNoun_CHANGE_NOUN_FINDING:            firm.NounFinding,
	vernationv1.ChangeNoun_CHANGE_NOUN_PLAN:               firm.NounPlan,
	vernationv1.ChangeNoun_CHANGE_NOUN_VISIT:              firm.NounVisit,
	vernationv1.ChangeNoun_CHANGE_NOUN_REPORT:             firm.NounReport,
	vernationv1.ChangeNoun_CHANGE_NOUN_APPLICATION_RECORD: firm.NounRecord,
	vernationv1.ChangeNoun_CHANGE_NOUN_PLANT_EVENT:        firm.NounPlantEvent,
	vernationv1.ChangeNoun_CHANGE_NOUN_KEEP_OUT:           firm.NounKeepOut,
	vernationv1.ChangeNoun_CHANGE_NOUN_INCIDENT:           firm.NounIncident,
	vernationv1.ChangeNoun_CHANGE_NOUN_SITE:               firm.NounSite,
	vernationv1.ChangeNoun_CHANGE_NOUN_PLANT:              firm.NounPlant,
	vernationv1.ChangeNoun_CHANGE_NOUN_PRODUCT:            firm.NounProduct,
	vernationv1.ChangeNoun_CHANGE_NOUN_TECHNICIAN:         firm.NounTechnician,
	vernationv1.ChangeNoun_CHANGE_NOUN_CLIENT:             firm.NounClient,
})

var changeEntryKinds = tableOf(map[vernationv1.ChangeEntryKind]firm.ChangeKind{
	vernationv1.ChangeEntryKind_CHANGE_ENTRY_KIND_CREATED:            firm.Created,
	vernationv1.ChangeEntryKind_CHANGE_ENTRY_KIND_CHANGED:            firm.Changed,
	vernationv1.ChangeEntryKind_CHANGE_ENTRY_KIND_ENDED:              firm.Ended,
	vernationv1.ChangeEntryKind_CHANGE_ENTRY_KIND_REOPENED:           firm.Reopened,
	vernationv1.ChangeEntryKind_CHANGE_ENTRY_KIND_PUBLISHED:          firm.PlanMadeReal,
	vernationv1.ChangeEntryKind_CHANGE_ENTRY_KIND_PLANNED:            firm.VisitPlanned,
	vernationv1.ChangeEntryKind_CHANGE_ENTRY_KIND_MOVED:              firm.VisitMoved,
	vernationv1.ChangeEntryKind_CHANGE_ENTRY_KIND_WITHDRAWN:          firm.VisitWithdrawn,
	vernationv1.ChangeEntryKind_CHANGE_ENTRY_KIND_BEGUN:              firm.VisitBegun,
	vernationv1.ChangeEntryKind_CHANGE_ENTRY_KIND_DONE:               firm.VisitDone,
	vernationv1.ChangeEntryKind_CHANGE_ENTRY_KIND_APPROVAL_WITHDRAWN: firm.ApprovalWithdrawn,
	vernationv1.ChangeEntryKind_CHANGE_ENTRY_KIND_STOPPED:            firm.ProductStopped,
	vernationv1.ChangeEntryKind_CHANGE_ENTRY_KIND_ALLOWED_AGAIN:      firm.ProductAllowed,
	vernationv1.ChangeEntryKind_CHANGE_ENTRY_KIND_DELETED:            firm.Deleted,
})

// Nouns reads the kinds of things that are asked for.
func Nouns(list []vernationv1.ChangeNoun) []firm.Noun { return changeNouns.wordsOf(list) }

// NounValues writes kinds of things.
func NounValues(list []firm.Noun) []vernationv1.ChangeNoun { return changeNouns.enums(list) }

// Change names a change: with leading zeros, so that names sort as changes happened.
func (n Names) Change(position int64) string {
	return n.name("changes", fmt.Sprintf("%016d", position))
}

// Position reads the place of a change from its name; the form of the name was held to before.
func Position(name string) int64 {
	position, err := strconv.ParseInt(ID[string](name), 10, 64)
	if err != nil {
		panic(fmt.Sprintf("the name %q of a change has no position, which its form asks for", name))
	}
	return position
}

// Change writes a change; its acknowledgement is set where there is one.
func Change(names Names, c firm.Acknowledged) *vernationv1.ChangeEntry {
	m := &vernationv1.ChangeEntry{
		Name:            names.Change(c.Position),
		ChangeTime:      Timestamp(c.At),
		Noun:            changeNouns.enum(c.Noun),
		Kind:            changeEntryKinds.enum(c.Kind),
		Subject:         names.subject(c.Change),
		Case:            names.Case(c.Case),
		Site:            names.Site(c.Site),
		Technician:      names.Technician(c.Technician),
		Begins:          Timestamp(c.Begins),
		Safety:          c.Safety,
		AcknowledgeTime: Timestamp(c.AcknowledgedAt),
	}
	if c.Technician != "" && c.Day != 0 {
		m.DayRoute = names.DayRoute(c.Technician, c.Day)
	}
	return m
}

// Changes writes changes in order, whatever was acknowledged.
func Changes(names Names, list []firm.Change) []*vernationv1.ChangeEntry {
	return each(list, func(c firm.Change) *vernationv1.ChangeEntry { return Change(names, firm.Acknowledged{Change: c}) })
}

// AcknowledgedChanges writes changes in order with when they were acknowledged.
func AcknowledgedChanges(names Names, list []firm.Acknowledged) []*vernationv1.ChangeEntry {
	return each(list, func(c firm.Acknowledged) *vernationv1.ChangeEntry { return Change(names, c) })
}

// subject names the thing that changed.
func (n Names) subject(c firm.Change) string {
	switch c.Noun {
	case firm.NounCase:
		return n.Case(course.CaseID(c.ID))
	case firm.NounCourse:
		return n.Course(course.CaseID(c.ID))
	case firm.NounVisit:
		return n.Visit(scheduler.VisitID(c.ID))
	case firm.NounKeepOut:
		return n.Area(c.Site, site.AreaID(c.ID))
	default:
		return n.name(collectionOf[c.Noun], c.ID)
	}
}

// collectionOf are the collections of the things that are named by their id alone.
var collectionOf = map[firm.Noun]string{
	firm.NounFinding: findingCollection, firm.NounPlan: planCollection, firm.NounReport: reportCollection, firm.NounRecord: recordCollection,
	firm.NounPlantEvent: plantEventCollection, firm.NounIncident: "incidents", firm.NounSite: siteCollection, firm.NounPlant: plantCollection,
	firm.NounProduct: productCollection, firm.NounTechnician: technicianCollection, firm.NounClient: clientCollection,
}

// Resume reads the position that a stream of a technician's changes goes on after. given is false for a stream that
// begins at present.
//
// Fails with Invalid (RESUME_TOKEN_INVALID) when the token is none of ours or was given for somebody else's stream.
func Resume(request *vernationv1.WatchDayRoutesRequest) (position int64, given bool, err error) {
	if request.GetResumeToken() == "" {
		return 0, false, nil
	}
	token, err := base64.RawURLEncoding.DecodeString(request.GetResumeToken())
	bound := streamOf(request)
	if err == nil && bytes.HasPrefix(token, bound) {
		position, err = strconv.ParseInt(string(token[len(bound):]), 10, 64)
	}
	if err != nil || !bytes.HasPrefix(token, bound) || position < 0 {
		return 0, false, fault.InvalidFields([]catalogue.FieldError{{Path: "resume_token", Reason: "RESUME_TOKEN_INVALID",
			Text: "the token was not given by a stream of this technician: want resume_token of the last message seen, or nothing to begin at present"}})
	}
	return position, true, nil
}

// ResumeToken writes the token of a stream that goes on after a position.
func ResumeToken(request *vernationv1.WatchDayRoutesRequest, position int64) string {
	return base64.RawURLEncoding.EncodeToString(strconv.AppendInt(streamOf(request), position, 10))
}

// streamOf binds a token to its stream.
func streamOf(request *vernationv1.WatchDayRoutesRequest) []byte {
	hash := sha256.Sum256([]byte("vernation.v1.WatchDayRoutes\n" + request.GetParent()))
	return hash[:questionBytes]
}
