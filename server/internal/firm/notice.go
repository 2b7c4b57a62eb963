package firm

import "vernation/scheduler/civil"

// NoticeWay is how a notice went.
type NoticeWay string

// The ways of a notice.
const (
	ByEmail     NoticeWay = "email"
	ByLetter    NoticeWay = "letter"
	ByTelephone NoticeWay = "telephone"
	InPerson    NoticeWay = "in-person"
	Posted      NoticeWay = "posted" // put up where the people concerned read it
	OtherWay    NoticeWay = "other"
)

// NoticeSending is a notice as it was really sent.
type NoticeSending struct {
	ID        string        `json:"id"`
	Notice    string        `json:"notice"`
	SentAt    civil.Instant `json:"sent_at"`
	ToldAt    civil.Instant `json:"told_at"`
	Caller    string        `json:"caller"` // who says so
	Way       NoticeWay     `json:"way"`
	Recipient string        `json:"recipient"`
	Note      string        `json:"note,omitempty"`
	// Withdrawn says that it was told wrongly: it counts as not sent.
	Withdrawn bool `json:"withdrawn,omitempty"`
}

// NoticeState says where a notice stands.
type NoticeState string

// The states of a notice.
const (
	NoticeDue       NoticeState = "due"       // to be sent
	NoticeOverdue   NoticeState = "overdue"   // to be sent, and its latest sending is past
	NoticeSent      NoticeState = "sent"      // or counts as sent with publishing
	NoticeUsedUp    NoticeState = "used-up"   // the visit did not take place: another one is needed
	NoticeWithdrawn NoticeState = "withdrawn" // the application is no longer to begin then
	NoticeMissed    NoticeState = "missed"    // never sent, and the beginning is past
)

// SentNotice is a notice beside what came of it.
type SentNotice struct {
	// Notice has the sending that counts: the first that somebody told of, else that of publishing.
	Notice   Notice          `json:"notice"`
	Presumed civil.Instant   `json:"presumed,omitempty"` // when publishing counts as sending; unset where it does not
	Sendings []NoticeSending `json:"sendings,omitempty"` // in order of time
	// Published says that the application is, or was, to begin then by what is published.
	Published bool `json:"published"`

	State NoticeState `json:"state,omitempty"` // at the present instant, never stored
}

// NoticeWording says whose words a notice is in.
type NoticeWording string

// OwnWording says that no wording that a jurisdiction prescribes is on record.
const OwnWording NoticeWording = "own"

// NoticeText is what a notice says, and to whom.
type NoticeText struct {
	Recipients []Contact
	// Text is what to tell; "" where the application is not published, and then it is in nobody's words.
	Text    string
	Wording NoticeWording
	// AskedFor is what the jurisdiction asks for there, in sentences for people with their standing; Unknown what is not known.
	AskedFor, Unknown []string
}
