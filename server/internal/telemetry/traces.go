package telemetry

import (
	"context"
	"errors"
	"fmt"
	"os"

	"go.opentelemetry.io/contrib/instrumentation/google.golang.org/grpc/otelgrpc"
	"go.opentelemetry.io/contrib/instrumentation/google.golang.org/grpc/otelgrpc/filters"
	"go.opentelemetry.io/otel/attribute"
	"go.opentelemetry.io/otel/exporters/otlp/otlptrace"
	"go.opentelemetry.io/otel/exporters/otlp/otlptrace/otlptracegrpc"
	"go.opentelemetry.io/otel/exporters/otlp/otlptrace/otlptracehttp"
	"go.opentelemetry.io/otel/propagation"
	"go.opentelemetry.io/otel/sdk/resource"
	sdktrace "go.opentelemetry.io/otel/sdk/trace"
	"google.golang.org/grpc"
)

// Traces send a span of each call to a collector.
type Traces struct{ provider *sdktrace.TracerProvider }

// OpenTraces begins to trace when the environment names a collector, by the variables of OpenTelemetry's specification
// (OTEL_EXPORTER_OTLP_ENDPOINT and its kin, OTEL_EXPORTER_OTLP_PROTOCOL grpc or http/protobuf, OTEL_TRACES_SAMPLER,
// OTEL_SERVICE_NAME); nil when it names none or switches tracing off. The collector need not be there yet.
func OpenTraces(ctx context.Context) (*Traces, error) {
	endpoint := first("OTEL_EXPORTER_OTLP_TRACES_ENDPOINT", "OTEL_EXPORTER_OTLP_ENDPOINT")
	if endpoint == "" || os.Getenv("OTEL_SDK_DISABLED") == "true" || os.Getenv("OTEL_TRACES_EXPORTER") == "none" {
		return nil, nil
	}
	var client otlptrace.Client
	switch protocol := first("OTEL_EXPORTER_OTLP_TRACES_PROTOCOL", "OTEL_EXPORTER_OTLP_PROTOCOL"); protocol {
	case "grpc":
		client = otlptracegrpc.NewClient()
	case "", "http/protobuf":
		client = otlptracehttp.NewClient()
	default:
		return nil, fmt.Errorf("traces: OTEL_EXPORTER_OTLP_PROTOCOL is %q; want grpc or http/protobuf", protocol)
	}
	exporter, err := otlptrace.New(ctx, client)
	if err != nil {
		return nil, fmt.Errorf("traces: %w", err)
	}
	about, err := resource.New(ctx, resource.WithAttributes(attribute.String("service.name", "vernation")), resource.WithTelemetrySDK(), resource.WithFromEnv())
	if err != nil {
		return nil, errors.Join(fmt.Errorf("traces: %w", err), exporter.Shutdown(ctx))
	}
	return &Traces{sdktrace.NewTracerProvider(sdktrace.WithBatcher(exporter), sdktrace.WithResource(about))}, nil
}

// Option makes a server trace its calls; probes are left out.
func (t *Traces) Option() grpc.ServerOption {
	return grpc.StatsHandler(otelgrpc.NewServerHandler(
		otelgrpc.WithTracerProvider(t.provider), otelgrpc.WithPropagators(propagation.TraceContext{}),
		otelgrpc.WithFilter(filters.Not(filters.HealthCheck()))))
}

// Close sends what is not sent yet, as long as the context allows.
func (t *Traces) Close(ctx context.Context) error {
	if err := t.provider.Shutdown(ctx); err != nil {
		return fmt.Errorf("send the last traces: %w", err)
	}
	return nil
}

// first is the first of some environment variables that is set.
func first(names ...string) string {
	for _, name := range names {
		if value := os.Getenv(name); value != "" {
			return value
		}
	}
	return ""
}
