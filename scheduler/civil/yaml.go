package civil

// These readers spare YAML libraries the detour over bytes, which costs them the whole document for each value.

// UnmarshalYAML reads what UnmarshalText reads.
func (d *Date) UnmarshalYAML(read func(any) error) error { return readText(read, d.UnmarshalText) }

// UnmarshalYAML reads what UnmarshalText reads.
func (w *Weekday) UnmarshalYAML(read func(any) error) error { return readText(read, w.UnmarshalText) }

// UnmarshalYAML reads what UnmarshalText reads.
func (c *Clock) UnmarshalYAML(read func(any) error) error { return readText(read, c.UnmarshalText) }

// UnmarshalYAML reads what UnmarshalText reads.
func (i *Instant) UnmarshalYAML(read func(any) error) error { return readText(read, i.UnmarshalText) }

// UnmarshalYAML reads what UnmarshalText reads.
func (z *Zone) UnmarshalYAML(read func(any) error) error { return readText(read, z.UnmarshalText) }

func readText(read func(any) error, parse func([]byte) error) error {
	var text string
	if err := read(&text); err != nil {
		return err
	}
	return parse([]byte(text))
}
