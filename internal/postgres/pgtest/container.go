package pgtest

import (
	"context"
	"fmt"
	"net/url"
	"time"

	"github.com/moby/moby/client"
	"github.com/testcontainers/testcontainers-go"
	"github.com/testcontainers/testcontainers-go/wait"
)

// image is the PostgreSQL the tests run on in a container: the oldest that is supported, so that nothing newer
// creeps into the SQL.
const image = "postgres:15-alpine"

// readyWithin is how long PostgreSQL may take to answer once its container runs. One that is still silent then won't
// be reached at all, as where its port is published on another address than testcontainers thinks.
const readyWithin = 30 * time.Second

// engineAnswers tells whether a container engine is there, after a second at most.
func engineAnswers(ctx context.Context) bool {
	ctx, cancel := context.WithTimeout(ctx, time.Second)
	defer cancel()
	engine, err := client.New(client.FromEnv)
	if err != nil {
		return false
	}
	defer engine.Close()
	_, err = engine.Ping(ctx, client.PingOptions{})
	return err == nil
}

func startContainer(ctx context.Context) (*testServer, error) {
	ctx, cancel := context.WithTimeout(ctx, 2*time.Minute)
	defer cancel()
	const password = "superuser-of-a-test"
	container, err := testcontainers.Run(ctx, image,
		testcontainers.WithEnv(map[string]string{
			"POSTGRES_PASSWORD":    password,
			"POSTGRES_INITDB_ARGS": "--encoding=UTF8 --locale=C.UTF-8 --data-checksums",
		}),
		testcontainers.WithCmd("postgres", "-c", "fsync=off", "-c", "synchronous_commit=off", "-c", "full_page_writes=off",
			"-c", "timezone=UTC", "-c", "max_connections="+maxConnections),
		testcontainers.WithExposedPorts("5432/tcp"),
		// The image starts the server twice: once to set it up, once to serve.
		testcontainers.WithWaitStrategy(wait.ForAll(
			wait.ForLog("database system is ready to accept connections").WithOccurrence(2),
			wait.ForListeningPort("5432/tcp"),
		).WithStartupTimeoutDefault(readyWithin)),
	)
	terminate := func() error { return testcontainers.TerminateContainer(container) }
	if err != nil {
		if container != nil {
			// The first error says more.
			_ = terminate()
		}
		return nil, err
	}
	endpoint, err := container.PortEndpoint(ctx, "5432/tcp", "")
	if err != nil {
		// The first error says more.
		_ = terminate()
		return nil, fmt.Errorf("where the container listens: %w", err)
	}
	u := url.URL{Scheme: "postgres", User: url.UserPassword("postgres", password), Host: endpoint, Path: "/postgres", RawQuery: "sslmode=disable"}
	return &testServer{superURL: u.String(), stop: terminate}, nil
}
