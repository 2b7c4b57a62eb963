package convert

import (
	"fmt"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler"
	"vernation/scheduler/catalogue"
	"vernation/scheduler/civil"
	"vernation/scheduler/course"
	"vernation/scheduler/mayapply"
	"vernation/scheduler/quantity"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// table translates between an enum of the contract and the words of the domain, in both directions.
type table[E ~int32, W comparable] struct {
	words  map[E]W
	values map[W]E
}

// tableOf makes a table of its pairs. The unspecified value stands for the unset word and is not among them.
func tableOf[E ~int32, W comparable](words map[E]W) table[E, W] {
	values := make(map[W]E, len(words))
	for value, word := range words {
		if _, twice := values[word]; twice {
			panic(fmt.Sprintf("two values of %T mean %v", value, word))
		}
		values[word] = value
	}
	return table[E, W]{words, values}
}

// enum writes a word; the unset word is unspecified. Another word that the contract lacks is a programmer's error.
func (t table[E, W]) enum(word W) E {
	value, ok := t.values[word]
	var unset W
	if !ok && word != unset {
		panic(fmt.Sprintf("the contract has no %T for %v", value, word))
	}
	return value
}

// word reads a value; unspecified is the unset word.
func (t table[E, W]) word(value E) W { return t.words[value] }

// enums writes a list of words.
func (t table[E, W]) enums(list []W) []E { return each(list, t.enum) }

// wordsOf reads a list of values.
func (t table[E, W]) wordsOf(list []E) []W { return each(list, t.word) }

var weekdays = tableOf(map[vernationv1.Weekday]civil.Weekday{
	vernationv1.Weekday_WEEKDAY_MON: 1,
	vernationv1.Weekday_WEEKDAY_TUE: 2,
	vernationv1.Weekday_WEEKDAY_WED: 3,
	vernationv1.Weekday_WEEKDAY_THU: 4,
	vernationv1.Weekday_WEEKDAY_FRI: 5,
	vernationv1.Weekday_WEEKDAY_SAT: 6,
	vernationv1.Weekday_WEEKDAY_SUN: 0,
})

var costParts = tableOf(map[vernationv1.CostPart]scheduler.CostPart{
	vernationv1.CostPart_COST_PART_PAID_TIME:               scheduler.CostPaid,
	vernationv1.CostPart_COST_PART_OVERTIME:                scheduler.CostOvertime,
	vernationv1.CostPart_COST_PART_TRAVEL:                  scheduler.CostTravel,
	vernationv1.CostPart_COST_PART_OPENING_VISITS:          scheduler.CostVisits,
	vernationv1.CostPart_COST_PART_OTHER_TECHNICIAN_OR_DAY: scheduler.CostOtherTechnician,
	vernationv1.CostPart_COST_PART_DELAY_OF_FOLLOW_UPS:     scheduler.CostDelay,
	vernationv1.CostPart_COST_PART_LATE_SERVICES:           scheduler.CostLateService,
	vernationv1.CostPart_COST_PART_LEFT_OUT_AND_DEFERRED:   scheduler.CostUnplanned,
	vernationv1.CostPart_COST_PART_SANITATION:              scheduler.CostSanitation,
	vernationv1.CostPart_COST_PART_CHANGES_TO_PUBLISHED:    scheduler.CostChanges,
	vernationv1.CostPart_COST_PART_UNEVEN_DAYS:             scheduler.CostUneven,
})

var followUpKinds = tableOf(map[vernationv1.FollowUpKind]course.FollowUpKind{
	vernationv1.FollowUpKind_FOLLOW_UP_KIND_APPLICATION:        course.KindApplication,
	vernationv1.FollowUpKind_FOLLOW_UP_KIND_INSPECT_INFESTED:   course.KindInspectInfested,
	vernationv1.FollowUpKind_FOLLOW_UP_KIND_INSPECT_NEIGHBOURS: course.KindInspectNeighbours,
	vernationv1.FollowUpKind_FOLLOW_UP_KIND_ISOLATION:          course.KindIsolation,
	vernationv1.FollowUpKind_FOLLOW_UP_KIND_MOVE_AND_RETURN:    course.KindMoveAndReturn,
	vernationv1.FollowUpKind_FOLLOW_UP_KIND_TRAP_CHANGE:        course.KindTrapChange,
	vernationv1.FollowUpKind_FOLLOW_UP_KIND_REPLACEMENT:        course.KindReplacement,
	vernationv1.FollowUpKind_FOLLOW_UP_KIND_DRY_CONFIRMATION:   course.KindDryConfirmation,
	vernationv1.FollowUpKind_FOLLOW_UP_KIND_SIGN_UP:            course.KindSignUp,
	vernationv1.FollowUpKind_FOLLOW_UP_KIND_SIGN_DOWN:          course.KindSignDown,
	vernationv1.FollowUpKind_FOLLOW_UP_KIND_LEAF_WASHING:       course.KindLeafWashing,
	vernationv1.FollowUpKind_FOLLOW_UP_KIND_PATCH_TEST:         course.KindPatchTest,
})

var partKinds = tableOf(map[vernationv1.PartKind]course.PartKind{
	vernationv1.PartKind_PART_KIND_WORK:        course.WorkPart,
	vernationv1.PartKind_PART_KIND_APPLICATION: course.ApplicationPart,
	vernationv1.PartKind_PART_KIND_CARRY_OUT:   course.CarryOutPart,
	vernationv1.PartKind_PART_KIND_WAIT:        course.WaitPart,
	vernationv1.PartKind_PART_KIND_CARRY_BACK:  course.CarryBackPart,
})

var reaches = tableOf(map[vernationv1.Reach]catalogue.Reach{
	vernationv1.Reach_REACH_REACHED: catalogue.Reached,
	vernationv1.Reach_REACH_PARTLY:  catalogue.Partly,
	vernationv1.Reach_REACH_SPARED:  catalogue.Spared,
})

var wayKinds = tableOf(map[vernationv1.WayKind]course.WayKind{
	vernationv1.WayKind_WAY_KIND_IN_PLACE:           course.InPlace,
	vernationv1.WayKind_WAY_KIND_AT_TREATMENT_PLACE: course.AtTreatmentPlace,
	vernationv1.WayKind_WAY_KIND_SHUTS_NOTHING:      course.ShutsNothing,
})

var cheapers = tableOf(map[vernationv1.Cheaper]course.Cheaper{
	vernationv1.Cheaper_CHEAPER_COURSE:      course.CheaperCourse,
	vernationv1.Cheaper_CHEAPER_REPLACEMENT: course.CheaperReplacement,
})

var linkKinds = tableOf(map[vernationv1.LinkKind]course.LinkKind{
	vernationv1.LinkKind_LINK_KIND_LEAST_LAG:   course.LeastLag,
	vernationv1.LinkKind_LINK_KIND_AFTER:       course.Order,
	vernationv1.LinkKind_LINK_KIND_NEEDS:       course.Needs,
	vernationv1.LinkKind_LINK_KIND_SAME_VISIT:  course.SameVisit,
	vernationv1.LinkKind_LINK_KIND_INSTEAD_OF:  course.InsteadOf,
	vernationv1.LinkKind_LINK_KIND_NO_LEACHING: course.Not,
})

var applicationRules = tableOf(map[vernationv1.ApplicationRule]mayapply.Rule{
	vernationv1.ApplicationRule_APPLICATION_RULE_LAW:           mayapply.RuleLaw,
	vernationv1.ApplicationRule_APPLICATION_RULE_AGREEMENT:     mayapply.RuleAgreement,
	vernationv1.ApplicationRule_APPLICATION_RULE_ACCESS:        mayapply.RuleAccess,
	vernationv1.ApplicationRule_APPLICATION_RULE_LICENCE:       mayapply.RuleLicence,
	vernationv1.ApplicationRule_APPLICATION_RULE_APPROVAL:      mayapply.RuleApproval,
	vernationv1.ApplicationRule_APPLICATION_RULE_NOTICE:        mayapply.RuleNotice,
	vernationv1.ApplicationRule_APPLICATION_RULE_PLACE:         mayapply.RulePlace,
	vernationv1.ApplicationRule_APPLICATION_RULE_PEST:          mayapply.RulePest,
	vernationv1.ApplicationRule_APPLICATION_RULE_SENSITIVE:     mayapply.RuleSensitive,
	vernationv1.ApplicationRule_APPLICATION_RULE_TEMPERATURE:   mayapply.RuleTemperature,
	vernationv1.ApplicationRule_APPLICATION_RULE_HUMIDITY:      mayapply.RuleHumidity,
	vernationv1.ApplicationRule_APPLICATION_RULE_TIME_OF_DAY:   mayapply.RuleHours,
	vernationv1.ApplicationRule_APPLICATION_RULE_WATER:         mayapply.RuleWater,
	vernationv1.ApplicationRule_APPLICATION_RULE_TOLERANCE:     mayapply.RuleTolerance,
	vernationv1.ApplicationRule_APPLICATION_RULE_OPEN_FLOWERS:  mayapply.RuleFlowers,
	vernationv1.ApplicationRule_APPLICATION_RULE_EDIBLE_PLANTS: mayapply.RuleEdible,
	vernationv1.ApplicationRule_APPLICATION_RULE_DRY_PLANTS:    mayapply.RuleDryness,
	vernationv1.ApplicationRule_APPLICATION_RULE_PLANTER:       mayapply.RulePlanter,
	vernationv1.ApplicationRule_APPLICATION_RULE_RETREATMENT:   mayapply.RuleRetreatment,
	vernationv1.ApplicationRule_APPLICATION_RULE_CAPS:          mayapply.RuleCaps,
	vernationv1.ApplicationRule_APPLICATION_RULE_INCOMPATIBLE:  mayapply.RuleIncompatible,
	vernationv1.ApplicationRule_APPLICATION_RULE_ENTRY:         mayapply.RuleEntry,
	vernationv1.ApplicationRule_APPLICATION_RULE_PEOPLE:        mayapply.RulePeople,
	vernationv1.ApplicationRule_APPLICATION_RULE_SHUT:          mayapply.RuleShut,
	vernationv1.ApplicationRule_APPLICATION_RULE_MIX:           mayapply.RuleMix,
	vernationv1.ApplicationRule_APPLICATION_RULE_RECORD:        mayapply.RuleRecord,
	vernationv1.ApplicationRule_APPLICATION_RULE_INCIDENT:      mayapply.RuleIncident,
})

var ruleWordKinds = tableOf(map[vernationv1.RuleWordKind]mayapply.Verdict{
	vernationv1.RuleWordKind_RULE_WORD_KIND_REFUSES: mayapply.Refuses,
	vernationv1.RuleWordKind_RULE_WORD_KIND_ASKS:    mayapply.Asks,
	vernationv1.RuleWordKind_RULE_WORD_KIND_NOTES:   mayapply.Notes,
})

var goneWays = tableOf(map[vernationv1.GoneWay]course.GoneKind{
	vernationv1.GoneWay_GONE_WAY_DISCARDED:  course.Discarded,
	vernationv1.GoneWay_GONE_WAY_SWAPPED:    course.Swapped,
	vernationv1.GoneWay_GONE_WAY_TAKEN_AWAY: course.TakenAway,
})

var caseDecisions = tableOf(map[vernationv1.CaseDecision]firm.CaseDecision{
	vernationv1.CaseDecision_CASE_DECISION_REPLACE:         firm.DecideReplace,
	vernationv1.CaseDecision_CASE_DECISION_TREAT:           firm.DecideTreat,
	vernationv1.CaseDecision_CASE_DECISION_KEEP_LOW:        firm.DecideKeepLow,
	vernationv1.CaseDecision_CASE_DECISION_CLIENT_DECLINED: firm.DecideDeclined,
	vernationv1.CaseDecision_CASE_DECISION_WRONG_PEST:      firm.DecideWrongPest,
	vernationv1.CaseDecision_CASE_DECISION_REMOVE:          firm.DecideRemove,
})

var endingKinds = tableOf(map[vernationv1.EndingKind]course.EndingKind{
	vernationv1.EndingKind_ENDING_KIND_CLEAR:                course.Clear,
	vernationv1.EndingKind_ENDING_KIND_PLANTS_GONE:          course.PlantsGone,
	vernationv1.EndingKind_ENDING_KIND_CLIENT_DECLINED:      course.Declined,
	vernationv1.EndingKind_ENDING_KIND_KEPT_LOW_UNDER_WATCH: course.KeptLow,
	vernationv1.EndingKind_ENDING_KIND_WRONG_PEST:           course.WrongPest,
	vernationv1.EndingKind_ENDING_KIND_NOT_FOUND:            course.NotFoundPest,
})

var certainties = tableOf(map[vernationv1.Certainty]course.Certainty{
	vernationv1.Certainty_CERTAINTY_CONFIRMED:   course.Confirmed,
	vernationv1.Certainty_CERTAINTY_SUSPECTED:   course.Suspected,
	vernationv1.Certainty_CERTAINTY_CLIENT_CALL: course.ClientCall,
})

var lives = tableOf(map[vernationv1.Life]course.Life{
	vernationv1.Life_LIFE_LIVING:   course.Living,
	vernationv1.Life_LIFE_DEAD:     course.Dead,
	vernationv1.Life_LIFE_NOT_SURE: course.NotSure,
})

var placeKinds = tableOf(map[vernationv1.PlaceKind]catalogue.PlaceKind{
	vernationv1.PlaceKind_PLACE_KIND_OFFICE:               catalogue.Office,
	vernationv1.PlaceKind_PLACE_KIND_LODGING:              catalogue.Lodging,
	vernationv1.PlaceKind_PLACE_KIND_HEALTH_CARE:          catalogue.HealthCare,
	vernationv1.PlaceKind_PLACE_KIND_SCHOOL_OR_CHILD_CARE: catalogue.School,
	vernationv1.PlaceKind_PLACE_KIND_FOOD_SERVICE:         catalogue.FoodService,
	vernationv1.PlaceKind_PLACE_KIND_HOME:                 catalogue.Home,
	vernationv1.PlaceKind_PLACE_KIND_RETAIL:               catalogue.Retail,
	vernationv1.PlaceKind_PLACE_KIND_PLANT_ROOM:           catalogue.PlantRoom,
	vernationv1.PlaceKind_PLACE_KIND_OUTDOORS:             catalogue.Outdoors,
})

var sensitives = tableOf(map[vernationv1.Sensitive]catalogue.Sensitive{
	vernationv1.Sensitive_SENSITIVE_FISH_TANK:       catalogue.FishTank,
	vernationv1.Sensitive_SENSITIVE_POND:            catalogue.Pond,
	vernationv1.Sensitive_SENSITIVE_BIRDS:           catalogue.Birds,
	vernationv1.Sensitive_SENSITIVE_CATS:            catalogue.Cats,
	vernationv1.Sensitive_SENSITIVE_DOGS:            catalogue.Dogs,
	vernationv1.Sensitive_SENSITIVE_CHILDREN:        catalogue.Children,
	vernationv1.Sensitive_SENSITIVE_OPEN_FOOD:       catalogue.OpenFood,
	vernationv1.Sensitive_SENSITIVE_AIR_INTAKE:      catalogue.AirIntake,
	vernationv1.Sensitive_SENSITIVE_DELICATE_FLOOR:  catalogue.DelicateFloor,
	vernationv1.Sensitive_SENSITIVE_DELICATE_FABRIC: catalogue.DelicateFabric,
	vernationv1.Sensitive_SENSITIVE_ODOUR_WISH:      catalogue.OdourWish,
})

var unplannedStatuses = tableOf(map[vernationv1.UnplannedStatus]scheduler.UnplannedStatus{
	vernationv1.UnplannedStatus_UNPLANNED_STATUS_LEFT_OUT: scheduler.LeftOut,
	vernationv1.UnplannedStatus_UNPLANNED_STATUS_DEFERRED: scheduler.Deferred,
})

var planRunStates = tableOf(map[vernationv1.PlanRunState]firm.RunState{
	vernationv1.PlanRunState_PLAN_RUN_STATE_PENDING:   firm.RunPending,
	vernationv1.PlanRunState_PLAN_RUN_STATE_RUNNING:   firm.RunRunning,
	vernationv1.PlanRunState_PLAN_RUN_STATE_DONE:      firm.RunDone,
	vernationv1.PlanRunState_PLAN_RUN_STATE_FAILED:    firm.RunFailed,
	vernationv1.PlanRunState_PLAN_RUN_STATE_CANCELLED: firm.RunCancelled,
})

var owners = tableOf(map[vernationv1.Owner]site.Owner{
	vernationv1.Owner_OWNER_CLIENT:   site.OwnedByClient,
	vernationv1.Owner_OWNER_BUSINESS: site.OwnedByBusiness,
	vernationv1.Owner_OWNER_LEASED:   site.Leased,
})

var planters = tableOf(map[vernationv1.Planter]site.Planter{
	vernationv1.Planter_PLANTER_DRAINED:             site.Drained,
	vernationv1.Planter_PLANTER_LINER_WITHOUT_DRAIN: site.Liner,
	vernationv1.Planter_PLANTER_SUB_IRRIGATED:       site.SubIrrigated,
	vernationv1.Planter_PLANTER_HYDROCULTURE:        site.Hydroculture,
	vernationv1.Planter_PLANTER_BED:                 site.Bed,
})

var serviceKinds = tableOf(map[vernationv1.ServiceKind]site.ServiceKind{
	vernationv1.ServiceKind_SERVICE_KIND_WATERING:    site.WateringService,
	vernationv1.ServiceKind_SERVICE_KIND_GROOMING:    site.GroomingService,
	vernationv1.ServiceKind_SERVICE_KIND_FERTILISING: site.FertilisingService,
})

var verdicts = tableOf(map[vernationv1.Verdict]catalogue.Verdict{
	vernationv1.Verdict_VERDICT_STANDS:     catalogue.Stands,
	vernationv1.Verdict_VERDICT_PATCH_TEST: catalogue.PatchTest,
	vernationv1.Verdict_VERDICT_MUST_NOT:   catalogue.MustNot,
})

var conventions = tableOf(map[vernationv1.Convention]quantity.Convention{
	vernationv1.Convention_CONVENTION_MADE_UP_TO: quantity.MadeUpTo,
	vernationv1.Convention_CONVENTION_ADDED_TO:   quantity.AddedTo,
})

var entryKinds = tableOf(map[vernationv1.EntryKind]catalogue.EntryKind{
	vernationv1.EntryKind_ENTRY_KIND_HOURS:       catalogue.EntryHours,
	vernationv1.EntryKind_ENTRY_KIND_UNTIL_DRY:   catalogue.EntryUntilDry,
	vernationv1.EntryKind_ENTRY_KIND_NONE_NEEDED: catalogue.EntryNone,
	vernationv1.EntryKind_ENTRY_KIND_UNKNOWN:     catalogue.EntryUnknown,
})

var forms = tableOf(map[vernationv1.Form]catalogue.Form{
	vernationv1.Form_FORM_CONCENTRATE:  catalogue.Concentrate,
	vernationv1.Form_FORM_READY_TO_USE: catalogue.ReadyToUse,
	vernationv1.Form_FORM_SOLID:        catalogue.Solid,
	vernationv1.Form_FORM_LIVING:       catalogue.Living,
	vernationv1.Form_FORM_DEVICE:       catalogue.Device,
	vernationv1.Form_FORM_NONE:         catalogue.NoSupply,
})

var methods = tableOf(map[vernationv1.Method]catalogue.Method{
	vernationv1.Method_METHOD_BY_HAND:           catalogue.ByHand,
	vernationv1.Method_METHOD_WIPE:              catalogue.Wipe,
	vernationv1.Method_METHOD_SPOT_SPRAY:        catalogue.SpotSpray,
	vernationv1.Method_METHOD_WHOLE_PLANT_SPRAY: catalogue.WholePlantSpray,
	vernationv1.Method_METHOD_DRENCH:            catalogue.Drench,
	vernationv1.Method_METHOD_TRAP:              catalogue.Trap,
	vernationv1.Method_METHOD_RELEASE:           catalogue.Release,
})

var outcomes = tableOf(map[vernationv1.Outcome]course.Outcome{
	vernationv1.Outcome_OUTCOME_DONE:                      course.OutcomeDone,
	vernationv1.Outcome_OUTCOME_DONE_IN_PART:              course.OutcomeInPart,
	vernationv1.Outcome_OUTCOME_LOCKED_OUT:                course.LockedOut,
	vernationv1.Outcome_OUTCOME_NO_KEY_OR_ALARM:           course.NoKeyOrAlarm,
	vernationv1.Outcome_OUTCOME_ENTRY_REFUSED:             course.EntryRefused,
	vernationv1.Outcome_OUTCOME_PEOPLE_PRESENT:            course.PeoplePresent,
	vernationv1.Outcome_OUTCOME_AREA_NOT_SHUT:             course.AreaNotShut,
	vernationv1.Outcome_OUTCOME_PLANT_NOT_FOUND:           course.PlantNotFound,
	vernationv1.Outcome_OUTCOME_MATERIAL_OR_WATER_MISSING: course.MaterialMissing,
	vernationv1.Outcome_OUTCOME_GEAR_FAILED:               course.GearFailed,
	vernationv1.Outcome_OUTCOME_TOO_HOT_OR_COLD:           course.TooHotOrCold,
	vernationv1.Outcome_OUTCOME_PLANT_DRY_OR_IN_FLOWER:    course.PlantDryOrFlower,
	vernationv1.Outcome_OUTCOME_LICENCE:                   course.LicenceMissing,
	vernationv1.Outcome_OUTCOME_RAN_OUT_OF_TIME:           course.RanOutOfTime,
	vernationv1.Outcome_OUTCOME_FOUND_WITHOUT_PEST:        course.FoundWithoutPest,
	vernationv1.Outcome_OUTCOME_CANCELLED_BY_CLIENT:       course.CancelledByClient,
})

var parties = tableOf(map[vernationv1.Party]course.Party{
	vernationv1.Party_PARTY_CLIENT:                 course.CallClient,
	vernationv1.Party_PARTY_SITE:                   course.CallSite,
	vernationv1.Party_PARTY_OFFICE:                 course.CallOffice,
	vernationv1.Party_PARTY_RESPONSIBLE_APPLICATOR: course.CallApplicator,
})

var leftovers = tableOf(map[vernationv1.LeftoverWay]firm.LeftWent{
	vernationv1.LeftoverWay_LEFTOVER_WAY_NONE_LEFT:  firm.NoneLeft,
	vernationv1.LeftoverWay_LEFTOVER_WAY_ON_PLANTS:  firm.OnPlants,
	vernationv1.LeftoverWay_LEFTOVER_WAY_TAKEN_HOME: firm.TakenHome,
	vernationv1.LeftoverWay_LEFTOVER_WAY_DRAIN:      firm.IntoDrain,
	vernationv1.LeftoverWay_LEFTOVER_WAY_OTHER:      firm.Elsewhere,
})

var rules = tableOf(map[vernationv1.Rule]scheduler.Rule{
	vernationv1.Rule_RULE_SHIFT:   scheduler.RuleShift,
	vernationv1.Rule_RULE_ACCESS:  scheduler.RuleAccess,
	vernationv1.Rule_RULE_LICENCE: scheduler.RuleLicence,
	vernationv1.Rule_RULE_TIMING:  scheduler.RuleTiming,
	vernationv1.Rule_RULE_LABEL:   scheduler.RuleLabel,
	vernationv1.Rule_RULE_REENTRY: scheduler.RuleReentry,
	vernationv1.Rule_RULE_MIX:     scheduler.RuleMix,
	vernationv1.Rule_RULE_PINNED:  scheduler.RulePinned,
})

var stampEvents = tableOf(map[vernationv1.StampEvent]firm.StampEvent{
	vernationv1.StampEvent_STAMP_EVENT_BEGUN: firm.StampBegun,
	vernationv1.StampEvent_STAMP_EVENT_ENDED: firm.StampEnded,
})

var visitStates = tableOf(map[vernationv1.VisitState]scheduler.VisitState{
	vernationv1.VisitState_VISIT_STATE_PLANNED:   scheduler.Planned,
	vernationv1.VisitState_VISIT_STATE_PUBLISHED: scheduler.Published,
	vernationv1.VisitState_VISIT_STATE_ANNOUNCED: scheduler.Announced,
	vernationv1.VisitState_VISIT_STATE_BEGUN:     scheduler.Begun,
	vernationv1.VisitState_VISIT_STATE_DONE:      scheduler.Done,
	vernationv1.VisitState_VISIT_STATE_PINNED:    scheduler.Pinned,
})

var incidentKinds = tableOf(map[vernationv1.IncidentKind]firm.IncidentKind{
	vernationv1.IncidentKind_INCIDENT_KIND_SPILL:        firm.Spill,
	vernationv1.IncidentKind_INCIDENT_KIND_SPLASH:       firm.Splash,
	vernationv1.IncidentKind_INCIDENT_KIND_EXPOSURE:     firm.Exposure,
	vernationv1.IncidentKind_INCIDENT_KIND_STAIN:        firm.Stain,
	vernationv1.IncidentKind_INCIDENT_KIND_BURNT_LEAVES: firm.BurntLeaves,
	vernationv1.IncidentKind_INCIDENT_KIND_COMPLAINT:    firm.Complaint,
})

var consentAnswers = tableOf(map[vernationv1.ConsentState]firm.ConsentAnswerKind{
	vernationv1.ConsentState_CONSENT_STATE_ASKED:     consentAsked,
	vernationv1.ConsentState_CONSENT_STATE_GIVEN:     firm.ConsentGiven,
	vernationv1.ConsentState_CONSENT_STATE_REFUSED:   firm.ConsentRefused,
	vernationv1.ConsentState_CONSENT_STATE_WITHDRAWN: firm.ConsentWithdrawn,
})
