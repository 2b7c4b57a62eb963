package convert

import "google.golang.org/protobuf/reflect/protoreflect"

// Table is an enum table as tests see it: numbers to words and back.
type Table struct {
	Enum protoreflect.EnumDescriptor
	Back func(number int32) (again int32, known bool) // number to word to number
}

// Tables lists every enum table.
var Tables = []Table{
	seen(weekdays), seen(costParts), seen(followUpKinds), seen(partKinds), seen(reaches), seen(wayKinds), seen(changeKinds), seen(endingKinds),
	seen(certainties), seen(lives), seen(placeKinds), seen(sensitives), seen(unplannedStatuses), seen(planRunStates), seen(planStates),
	seen(owners), seen(planters), seen(serviceKinds), seen(verdicts), seen(conventions), seen(entryKinds), seen(forms),
	seen(methods), seen(outcomes), seen(leftovers), seen(rules), seen(visitStates),
	seen(linkKinds), seen(cheapers), seen(applicationRules), seen(ruleWordKinds), seen(goneWays), seen(caseDecisions), seen(settingParts), seen(standings), seen(extents), seen(movementKinds),
	seen(incidentKinds), seen(consentAnswers), seen(stampEvents), seen(parties),
	seen(changeNouns), seen(changeEntryKinds), seen(deliveryStates),
	seen(noticeStates), seen(noticeWays), seen(noticeWordings),
}

func seen[E interface {
	~int32
	protoreflect.Enum
}, W comparable](t table[E, W]) Table {
	var none E
	return Table{none.Descriptor(), func(number int32) (int32, bool) {
		word, known := t.words[E(number)]
		if !known {
			return 0, false
		}
		return int32(t.enum(word)), true
	}}
}

// ContractPath is contractPath.
var ContractPath = contractPath
