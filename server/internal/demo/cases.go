package demo

import (
	"context"
	"fmt"
	"strings"

	"google.golang.org/grpc/status"

	vernationv1 "vernation/proto/vernation/v1"
)

// places are display names by resource name.
type places struct {
	sites, plants, products, technicians map[string]string
}

func (s *story) describePremises(ctx context.Context) error {
	s.say("Everything here is invented. Label figures of the demo's products are placeholders; the label in hand, local codes and "+
		"licensed practice outrank every line. It is %s by the firm's clock.", s.now.Format("Monday 2 January 2006, 15:04"))
	s.places = places{map[string]string{}, map[string]string{}, map[string]string{}, map[string]string{}}
	sites, err := s.office.Sites().ListSites(ctx, &vernationv1.ListSitesRequest{Parent: name(), PageSize: 100})
	if err != nil {
		return err
	}
	for _, site := range sites.GetSites() {
		s.places.sites[site.GetName()] = site.GetDisplayName()
		plants, err := s.office.Plants().ListPlants(ctx, &vernationv1.ListPlantsRequest{Parent: name(), Site: site.GetName(), PageSize: 200})
		if err != nil {
			return err
		}
		for _, plant := range plants.GetPlants() {
			s.places.plants[plant.GetName()] = plant.GetDisplayName()
		}
		s.item("%s: %s with %s.", site.GetDisplayName(), plural(len(site.GetAreas()), "area"), plural(len(plants.GetPlants()), "row")+" of plants")
	}
	products, err := s.office.Products().ListProducts(ctx, &vernationv1.ListProductsRequest{Parent: name(), PageSize: 100})
	if err != nil {
		return err
	}
	for _, product := range products.GetProducts() {
		s.places.products[product.GetName()] = product.GetDisplayName()
	}
	crew, err := s.office.Technicians().ListTechnicians(ctx, &vernationv1.ListTechniciansRequest{Parent: name(), PageSize: 100})
	if err != nil {
		return err
	}
	for _, member := range crew.GetTechnicians() {
		s.places.technicians[member.GetName()] = member.GetDisplayName()
		var licences []string
		for _, licence := range member.GetLicences() {
			licences = append(licences, licence.GetJurisdiction()+" category "+licence.GetCategory())
		}
		s.item("%s: licence %s; %s.", member.GetDisplayName(), strings.Join(licences, ", "), plural(len(member.GetVessels()), "vessel"))
	}
	return nil
}

func (s *story) findings(ctx context.Context) error {
	for _, found := range []struct {
		id, pest, site string
		severity       int32
		plants         []string
		into           *string
	}{
		{"mealybugs-alder-row", "citrus-mealybug", "offices-alder-row", 2, []string{"pothos-stairs", "pothos-printer"}, &s.mealybug},
		{"gnats-reading-room", "fungus-gnat", "hotel-quarry-square", 2, []string{"lily-reading"}, &s.gnats},
		{"gnats-lobby", "fungus-gnat", "hotel-quarry-square", 2, []string{"lily-lobby"}, &s.lobby},
	} {
		finding := &vernationv1.Finding{
			Pest: found.pest, Certainty: vernationv1.Certainty_CERTAINTY_CONFIRMED, Life: vernationv1.Life_LIFE_LIVING,
			Severity: found.severity, SeenTime: stamp(s.now), SeenBy: "a technician on the round",
		}
		for _, plant := range found.plants {
			finding.Plants = append(finding.Plants, s.plantName(found.site, plant))
		}
		answer, err := s.office.Findings().CreateFinding(ctx, &vernationv1.CreateFindingRequest{
			Parent: name(), FindingId: found.id, Finding: finding, RequestId: requestID("finding", found.id),
		})
		if err != nil {
			return err
		}
		*found.into = answer.GetCase()
		s.item("%s, severity %d, confirmed and alive, on %s at %s: opens case %s.", strings.ReplaceAll(found.pest, "-", " "),
			found.severity, s.plantList(answer.GetPlants()), s.places.sites[name("sites", found.site)], last(answer.GetCase()))
	}
	return nil
}

func (s *story) plantName(_, plant string) string { return name("plants", plant) }

func (s *story) plantList(names []string) string {
	list := make([]string, len(names))
	for i, n := range names {
		list[i] = s.places.plants[n]
	}
	return strings.Join(list, " and ")
}

func (s *story) course(ctx context.Context, of string) (*vernationv1.Course, error) {
	return s.office.Cases().GetCourse(ctx, &vernationv1.GetCourseRequest{Name: of + "/course"})
}

func (s *story) courses(ctx context.Context) error {
	for _, of := range []string{s.mealybug, s.gnats} {
		course, err := s.course(ctx, of)
		if err != nil {
			return err
		}
		s.tellCourse(of, course)
	}
	s.say("The course of case %s, in the lobby, is like that of %s.", last(s.lobby), last(s.gnats))
	return nil
}

func (s *story) tellCourse(of string, course *vernationv1.Course) {
	s.say("Case %s, by %s:", last(of), s.places.products[course.GetProduct()])
	proof := course.GetProof()
	s.item("%s.", strings.TrimSuffix(proof.GetText(), "."))
	var reached, partly, spared []string
	for _, stage := range proof.GetStages() {
		switch stage.GetReach() {
		case vernationv1.Reach_REACH_REACHED:
			reached = append(reached, stage.GetStage())
		case vernationv1.Reach_REACH_PARTLY:
			partly = append(partly, stage.GetStage())
		case vernationv1.Reach_REACH_SPARED:
			spared = append(spared, stage.GetStage())
		}
	}
	s.item("Reached: %s. Partly: %s. Spared: %s.", orNone(reached), orNone(partly), orNone(spared))
	s.tellApplications(course)
	s.item("Beside them: %s.", besides(course))
	s.item("After the last one none is left with a chance of %s. Otherwise, most of all where coverage missed a hidden colony (chance %s), some grow again: "+
		"on average over all outcomes %s of the insects of the first day. %s.",
		percent(course.GetChanceFree()), percent(course.GetChanceMissed()), percent(course.GetExpectedLeft()), course.GetLooks().GetText())
	s.item("%s.", course.GetReplacement().GetText())
	for _, refusal := range course.GetRefusals() {
		text := strings.Join(refusal.GetReasons(), "; ")
		if refusal.GetComputed() != "" {
			text += " (computed all the same: " + refusal.GetComputed() + ")"
		}
		s.item("Refused, %s: %s", refusal.GetMaterial(), text)
	}
	s.cautions(course.GetCautions())
}

// tellApplications prints the applications still needed: the first two and the last with their reasons, the others
// by their days.
func (s *story) tellApplications(course *vernationv1.Course) {
	var applications []*vernationv1.FollowUp
	for _, f := range course.GetFollowUps() {
		if f.GetKind() == vernationv1.FollowUpKind_FOLLOW_UP_KIND_APPLICATION {
			applications = append(applications, f)
		}
	}
	var between []string
	for i, f := range applications {
		if i >= 2 && i < len(applications)-1 {
			between = append(between, day(f.GetExpectedOn()))
			continue
		}
		if len(between) > 0 {
			s.item("%s: likewise.", strings.Join(between, ", "))
		}
		s.item("%s, %s: %s.", day(f.GetExpectedOn()), f.GetItem(), f.GetReason())
	}
}

func orNone(list []string) string {
	if len(list) == 0 {
		return "none"
	}
	return strings.Join(list, ", ")
}

// besides counts the follow-ups that are no applications, by kind.
func besides(course *vernationv1.Course) string {
	counts := map[string]int{}
	var order []string
	for _, f := range course.GetFollowUps() {
		if f.GetKind() == vernationv1.FollowUpKind_FOLLOW_UP_KIND_APPLICATION {
			continue
		}
		kind := words(f.GetKind(), "FOLLOW_UP_KIND_")
		if counts[kind]++; counts[kind] == 1 {
			order = append(order, kind)
		}
	}
	for i, kind := range order {
		order[i] = fmt.Sprintf("%d x %s", counts[kind], kind)
	}
	return orNone(order)
}

func (s *story) approvals(ctx context.Context) error {
	for _, of := range []string{s.mealybug, s.gnats, s.lobby} {
		course, err := s.course(ctx, of)
		if err != nil {
			return err
		}
		_, err = s.technician.Cases().ApproveCourse(ctx, &vernationv1.ApproveCourseRequest{
			Name: of + "/course", Product: course.GetProduct(), RequestId: requestID("approve", of),
			WayKinds: []vernationv1.WayKind{vernationv1.WayKind_WAY_KIND_IN_PLACE, vernationv1.WayKind_WAY_KIND_AT_TREATMENT_PLACE, vernationv1.WayKind_WAY_KIND_SHUTS_NOTHING},
		})
		if err != nil {
			return err
		}
		s.item("Approved for case %s: %s, up to its label's rate.", last(of), s.places.products[course.GetProduct()])
	}
	_, err := s.technician.Cases().ApproveCourse(ctx, &vernationv1.ApproveCourseRequest{
		Name: s.mealybug + "/course", Product: name("products", "alcohol"), RequestId: requestID("approve", "alcohol"),
		WayKinds: []vernationv1.WayKind{vernationv1.WayKind_WAY_KIND_IN_PLACE},
	})
	if err == nil {
		return fmt.Errorf("the household remedy was approved: want it refused")
	}
	s.item("Asked for %s as well, and refused (%s): %s", s.places.products[name("products", "alcohol")], status.Code(err), status.Convert(err).Message())
	return nil
}
