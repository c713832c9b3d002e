package postgres

import "context"

// RoleForTest is the role the pool works as.
func (s *Store) RoleForTest(ctx context.Context) (role string, err error) {
	err = s.pool.QueryRow(ctx, "SELECT current_user").Scan(&role)
	return role, err
}

// ExecForTest runs SQL as the pool does.
func (s *Store) ExecForTest(ctx context.Context, sql string) error {
	_, err := s.pool.Exec(ctx, sql)
	return err
}
