package database

import "context"

// settingRows are settings that the programs of a shop share: what they are may say something of somebody.
var settingRows = &trusted{table: "settings", kind: ofSetting, name: "name", columns: []string{"value"}, sealed: []string{"value"}}

// Set notes a setting, in the place of what it was. Empty is none.
func (d *Database) Set(ctx context.Context, name, value string) error {
	return d.Write(ctx, func(t *Tx) error {
		if value == "" {
			_, err := t.drop(settingRows, name)
			return err
		}
		return t.keep(settingRows, name, value)
	})
}

// Setting is a setting as it was noted last; empty for none.
func (d *Database) Setting(ctx context.Context, name string) (value string, err error) {
	err = d.Read(ctx, "select value from settings where name = $1", []any{name}, func(scan func(...any) error) error { return scan(&value) })
	return value, err
}
