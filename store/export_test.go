package store

// Queries lists every statement that the open connections have prepared.
func (db *DB) Queries() []string {
	seen := map[string]bool{}
	var all []string
	for _, free := range []chan *conn{db.readers, db.writer} {
		for range cap(free) {
			c := <-free
			for query := range c.prepared {
				if !seen[query] {
					seen[query] = true
					all = append(all, query)
				}
			}
			free <- c
		}
	}
	return all
}
