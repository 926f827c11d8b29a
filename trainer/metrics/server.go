package metrics

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// Limits of the server: it answers short questions of few askers.
const (
	maxHeaderBytes = 8 << 10
	maxAtOnce      = 4
	patience       = 5 * time.Second // for a request's head, and for its answer
	idle           = time.Minute
	// lastWords is how long Close waits at most to be asked once more.
	lastWords = 5 * time.Second
)

// Path is where the metrics are.
const Path = "/metrics"

// Server gives metrics to those who ask for them.
type Server struct {
	listener net.Listener
	http     http.Server
	done     chan struct{}

	mu       sync.Mutex    // guards the two below
	asked    time.Time     // last
	every    time.Duration // between the last two times
	answered chan struct{} // has room for one
}

// Serve begins to answer at addr, host:port; port 0 takes a free one.
func (m *Metrics) Serve(addr string) (*Server, error) {
	l, err := net.Listen("tcp", addr)
	if err != nil {
		return nil, err
	}
	s := &Server{listener: l, done: make(chan struct{}), answered: make(chan struct{}, 1)}
	mux := http.NewServeMux()
	mux.Handle("GET "+Path, s.noting(promhttp.HandlerFor(m.Registry, promhttp.HandlerOpts{
		Registry: m.Registry, EnableOpenMetrics: true, MaxRequestsInFlight: maxAtOnce, Timeout: patience})))
	s.http = http.Server{Handler: mux, MaxHeaderBytes: maxHeaderBytes,
		ReadHeaderTimeout: patience, ReadTimeout: patience, WriteTimeout: 2 * patience, IdleTimeout: idle}
	go func() {
		defer close(s.done)
		_ = s.http.Serve(l) // it ends by Close
	}()
	return s, nil
}

// noting notes when h is asked, and says when it has answered.
func (s *Server) noting(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.mu.Lock()
		now := time.Now()
		if !s.asked.IsZero() {
			s.every = now.Sub(s.asked)
		}
		s.asked = now
		s.mu.Unlock()
		h.ServeHTTP(w, r)
		select {
		case s.answered <- struct{}{}:
		default:
		}
	})
}

// URL gives where the metrics are.
func (s *Server) URL() string { return fmt.Sprintf("http://%s%s", s.listener.Addr(), Path) }

// Open tells whether others than this machine can ask.
func (s *Server) Open() bool {
	a, ok := s.listener.Addr().(*net.TCPAddr)
	return !ok || !a.IP.IsLoopback()
}

// Close ends the server. Where somebody has been asking regularly it waits to be
// asked once more, so that the last figures are not lost. An answer that has begun
// is finished first, within a second.
func (s *Server) Close() error {
	s.mu.Lock()
	patient := 2*s.every - time.Since(s.asked)
	s.mu.Unlock()
	if patient > 0 {
		select {
		case <-s.answered: // of before the end
		default:
		}
		select {
		case <-s.answered:
		case <-time.After(min(patient, lastWords)):
		}
	}
	ctx, cancel := context.WithTimeout(context.Background(), time.Second)
	defer cancel()
	err := s.http.Shutdown(ctx)
	if errors.Is(err, context.DeadlineExceeded) {
		err = s.http.Close()
	}
	<-s.done
	return err
}
