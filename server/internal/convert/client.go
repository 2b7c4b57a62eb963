package convert

import (
	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/site"
	"vernation/server/internal/fault"
	"vernation/server/internal/firm"
	"vernation/server/internal/listing"
)

// ClientList declares by what clients may be filtered and put in order.
var ClientList = listing.Declare(named(listing.NameField), text("display_name"), text("external_id"), deleteTime)

// Client writes a client, as it is kept.
func Client(names Names, kept firm.Kept[firm.Client]) *vernationv1.Client {
	return &vernationv1.Client{
		Name:          names.Client(kept.Value.ID),
		DisplayName:   kept.Value.Name,
		PostalAddress: kept.Value.PostalAddress,
		Contacts: each(kept.Value.Contacts, func(c firm.Contact) *vernationv1.Contact {
			return &vernationv1.Contact{
				DisplayName: c.Name, Phone: c.Phone, Email: c.Email, MayConsent: c.MayConsent, TakesNotices: c.TakesNotices,
				Sites: names.Sites(c.Sites), Reachable: openedCalendar(c.Reachable),
			}
		}),
		ExternalId: kept.ExternalID,
		Etag:       Etag(kept.Revision),
		DeleteTime: Timestamp(kept.DeletedAt),
	}
}

// ClientFrom reads a client that shall have an id, with what another system calls it; path is where the message stands in
// its request.
func ClientFrom(path, id string, m *vernationv1.Client) (firm.Kept[firm.Client], error) {
	r := &reading{}
	c := firm.Client{
		ID: id, Name: m.GetDisplayName(), PostalAddress: m.GetPostalAddress(),
		Contacts: eachAt(path+".contacts", m.GetContacts(), func(path string, c *vernationv1.Contact) firm.Contact {
			return firm.Contact{
				Name: c.GetDisplayName(), Phone: c.GetPhone(), Email: c.GetEmail(), MayConsent: c.GetMayConsent(), TakesNotices: c.GetTakesNotices(),
				Sites: IDs[site.ID](c.GetSites()), Reachable: r.calendar(path+".reachable", c.GetReachable()),
			}
		}),
	}
	return firm.Kept[firm.Client]{Value: c, ExternalID: m.GetExternalId()}, fault.InvalidFields(r.wrong)
}
