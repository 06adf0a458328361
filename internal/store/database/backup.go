package database

// keepBefore keeps what is there before the tables are changed, and says where.
func (t *Tx) keepBefore(have []version) (string, error) {
	if len(have) == 0 {
		return "", nil // nothing is there yet
	}
	return "", errNoBackups
}
