package convert

import (
	"strings"

	vernationv1 "vernation/proto/vernation/v1"
	"vernation/scheduler/site"
	"vernation/server/internal/firm"
)

// secretsOf is the last part of the name of a site's access secrets.
const secretsOf = "/accessSecrets"

// SiteOfSecrets reads the name of access secrets: businesses/b/sites/s/accessSecrets is "s".
func SiteOfSecrets(name string) site.ID { return ID[site.ID](strings.TrimSuffix(name, secretsOf)) }

// AccessSecretsFrom reads what shall open a site.
func AccessSecretsFrom(of site.ID, m *vernationv1.AccessSecrets) firm.AccessSecrets {
	return firm.AccessSecrets{Site: of, KeyPlace: m.GetKeyPlace(), Note: m.GetNote(), Codes: each(m.GetCodes(), func(c *vernationv1.AccessCode) firm.AccessCode {
		return firm.AccessCode{Opens: c.GetOpens(), Code: c.GetCode()}
	})}
}

// AccessSecrets writes what opens a site.
func AccessSecrets(names Names, s firm.AccessSecrets) *vernationv1.AccessSecrets {
	written := WithoutSecrets(names, s)
	written.Codes = each(s.Codes, func(c firm.AccessCode) *vernationv1.AccessCode {
		return &vernationv1.AccessCode{Opens: c.Opens, Code: c.Code}
	})
	written.KeyPlace, written.Note = s.KeyPlace, s.Note
	return written
}

// WithoutSecrets writes of access secrets only whose they are and their version.
func WithoutSecrets(names Names, s firm.AccessSecrets) *vernationv1.AccessSecrets {
	return &vernationv1.AccessSecrets{Name: names.Site(s.Site) + secretsOf, Etag: Etag(s.Version), UpdateTime: Timestamp(s.UpdatedAt)}
}

// SecretReading writes who read what opens a site.
func SecretReading(names Names, r firm.SecretReading) *vernationv1.AccessSecretsReading {
	written := &vernationv1.AccessSecretsReading{Site: names.Site(r.Site), ReadTime: Timestamp(r.ReadAt), Reader: r.Reader}
	if r.Technician != "" {
		written.DayRoute = names.DayRoute(r.Technician, r.Day)
	}
	return written
}
