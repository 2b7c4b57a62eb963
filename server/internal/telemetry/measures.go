package telemetry

import (
	"context"
	"database/sql"
	"net/http"
	"time"

	grpcprometheus "github.com/grpc-ecosystem/go-grpc-middleware/providers/prometheus"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
	"google.golang.org/grpc"

	"vernation/server/internal/store"
)

// askWithin is how long the queue may take to say what waits; without an answer its measures are left out.
const askWithin = 2 * time.Second

// longest are the bounds of the histogram of calls, in seconds: a read takes some milliseconds, an explanation seconds.
var longest = []float64{.002, .005, .01, .02, .05, .1, .2, .5, 1, 2, 5, 10, 30}

// Source is what is measured beside the calls; *store.Store is one.
type Source interface {
	// Pool counts the connections to the database.
	Pool() sql.DBStats
	// Rounds counts the rounds that this process has searched since it began.
	Rounds() int64
	// Waiting counts what waits and is worked on, over all servers.
	Waiting(context.Context) (store.Waiting, error)
}

// Measures are those of one server.
type Measures struct {
	registry *prometheus.Registry
	calls    *grpcprometheus.ServerMetrics
}

// NewMeasures begins to measure.
func NewMeasures(source Source) *Measures {
	m := &Measures{
		registry: prometheus.NewRegistry(),
		calls:    grpcprometheus.NewServerMetrics(grpcprometheus.WithServerHandlingTimeHistogram(grpcprometheus.WithHistogramBuckets(longest))),
	}
	m.registry.MustRegister(m.calls, collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}), beside{source})
	return m
}

// Unary measures calls of one answer; it belongs outside of whatever makes statuses.
func (m *Measures) Unary() grpc.UnaryServerInterceptor { return m.calls.UnaryServerInterceptor() }

// Stream measures streams.
func (m *Measures) Stream() grpc.StreamServerInterceptor { return m.calls.StreamServerInterceptor() }

// Handler answers Prometheus.
func (m *Measures) Handler() http.Handler {
	return promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{ErrorHandling: promhttp.ContinueOnError, MaxRequestsInFlight: 2, Timeout: 2 * askWithin})
}

// beside collects what is measured beside the calls, at the moment when it is asked for.
type beside struct{ source Source }

func measure(name, means string, labels ...string) *prometheus.Desc {
	return prometheus.NewDesc("vernation_"+name, means, labels, nil)
}

var (
	poolOpen     = measure("pool_connections_open", "Connections to the database, in use and idle.")
	poolUsed     = measure("pool_connections_used", "Connections that a transaction has.")
	poolMost     = measure("pool_connections_most", "Most connections that the pool opens.")
	poolWaits    = measure("pool_waits_total", "How often a transaction waited for a connection.")
	poolWaited   = measure("pool_waited_seconds_total", "How long transactions waited for connections in all.")
	rounds       = measure("plan_rounds_total", "Rounds of the search of plan runs that this process has worked on.")
	runs         = measure("plan_runs", "Plan runs that are not finished, over all servers: waiting, working, or lost by their worker.", "state")
	runWait      = measure("plan_run_wait_seconds", "How long the plan run that waits longest has waited past its time; 0 when none is late.")
	queueDepth   = measure("queue_depth", "What stands in the queue and is not finished, over all servers.", "kind", "state")
	queueAnswers = measure("queue_answers", "1 when the queue could be asked for these measures, else 0.")
)

// Describe names the measures.
func (beside) Describe(to chan<- *prometheus.Desc) {
	for _, one := range []*prometheus.Desc{poolOpen, poolUsed, poolMost, poolWaits, poolWaited, rounds, runs, runWait, queueDepth, queueAnswers} {
		to <- one
	}
}

// Collect takes the measures.
func (b beside) Collect(to chan<- prometheus.Metric) {
	gauge := func(of *prometheus.Desc, value float64, labels ...string) {
		to <- prometheus.MustNewConstMetric(of, prometheus.GaugeValue, value, labels...)
	}
	count := func(of *prometheus.Desc, value float64) {
		to <- prometheus.MustNewConstMetric(of, prometheus.CounterValue, value)
	}
	pool := b.source.Pool()
	gauge(poolOpen, float64(pool.OpenConnections))
	gauge(poolUsed, float64(pool.InUse))
	gauge(poolMost, float64(pool.MaxOpenConnections))
	count(poolWaits, float64(pool.WaitCount))
	count(poolWaited, pool.WaitDuration.Seconds())
	count(rounds, float64(b.source.Rounds()))
	ctx, cancel := context.WithTimeout(context.Background(), askWithin)
	defer cancel()
	waiting, err := b.source.Waiting(ctx)
	if err != nil {
		gauge(queueAnswers, 0)
		return
	}
	gauge(queueAnswers, 1)
	gauge(runs, float64(waiting.RunsWaiting), "waiting")
	gauge(runs, float64(waiting.RunsWorking), "working")
	gauge(runs, float64(waiting.RunsLost), "lost")
	gauge(runWait, waiting.LatestBy.Seconds())
	for _, row := range waiting.Queue {
		gauge(queueDepth, float64(row.Count), row.Kind, row.State)
	}
}
