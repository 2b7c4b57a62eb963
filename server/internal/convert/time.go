package convert

import (
	"time"

	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	"vernation/scheduler/civil"
)

// Timestamp writes an instant; nil where it is unset.
func Timestamp(at civil.Instant) *timestamppb.Timestamp {
	if at.IsZero() {
		return nil
	}
	return &timestamppb.Timestamp{Seconds: int64(at)}
}

// InstantFrom reads a timestamp; unset where there is none. Fractions of a second are cut.
func InstantFrom(at *timestamppb.Timestamp) civil.Instant { return civil.Instant(at.GetSeconds()) }

// Duration writes a length of time; nil where it is 0.
func Duration(length time.Duration) *durationpb.Duration {
	if length == 0 {
		return nil
	}
	return durationpb.New(length)
}

// DurationFrom reads a length of time; 0 where there is none.
func DurationFrom(length *durationpb.Duration) time.Duration { return length.AsDuration() }
