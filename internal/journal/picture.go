package journal

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"syscall"
)

// Picture is a small picture that is kept with a night.
type Picture struct {
	Name  string          // before, after: one of each a night, the last one given
	T     float64         // seconds since the night's first frame
	Marks json.RawMessage // what is where in it
	PNG   []byte
}

// mostPicture is the most that a picture may have, bytes (judgement).
const mostPicture = 256 << 10

// Picture keeps a picture, with marks that become JSON. Like Record it never waits
// for the disk.
func (n *Night) Picture(name string, t float64, marks any, png []byte) error {
	if err := n.failure(); err != nil {
		return err
	}
	if len(png) > mostPicture {
		return fmt.Errorf("keeping the picture %s: %d bytes are more than %d; keep a smaller one", name, len(png), mostPicture)
	}
	m, err := json.Marshal(marks)
	if err != nil {
		return fmt.Errorf("keeping the picture %s: %w", name, err)
	}
	return n.send(item{picture: &Picture{name, t, m, png}})
}

// Pictures lists the pictures of a night; a journal from before they were kept has none.
func (j *Journal) Pictures(ctx context.Context, night int64) ([]Picture, error) {
	if j.version < 2 {
		return nil, nil
	}
	rows, err := j.db.QueryContext(ctx, "SELECT name, t, marks, png FROM picture WHERE night = ? AND length(png) <= ? AND octet_length(name) + octet_length(marks) <= ? ORDER BY t", night, mostPicture, mostValue)
	var list []Picture
	if err == nil {
		for rows.Next() {
			var p Picture
			var marks string
			if err = rows.Scan(&p.Name, &p.T, &marks, &p.PNG); err != nil {
				break
			}
			p.Marks = json.RawMessage(marks)
			list = append(list, p)
		}
		err = errors.Join(err, rows.Err(), rows.Close())
	}
	if damage(err) {
		j.found(err)
		return list, nil
	}
	if err != nil {
		return list, fmt.Errorf("reading the pictures of night %d: %w", night, err)
	}
	return list, nil
}

// spare is the size of a file that is deleted when the disk is full, bytes, so that this
// can still be written: some pages of the journal's log (sqlite.org/fileformat2.html, 4.1).
const spare = 64 << 10

// reserve makes that file, over nothing that is there: a link would lead elsewhere. Without
// it a full disk looks like a power cut: no more than that.
func (j *Journal) reserve() {
	j.release()
	if f, err := os.OpenFile(j.path+"-spare", os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600); err == nil {
		_, _ = f.Write(make([]byte, spare))
		_ = f.Close()
	}
}

func (j *Journal) release() { _ = os.Remove(j.path + "-spare") }

// lose writes down why the rest of the night is not written.
func (n *Night) lose(err error) {
	why := "failed"
	if errors.Is(err, syscall.ENOSPC) {
		why = "disk-full"
		n.j.release()
	}
	// Should this fail too, the night looks cut off.
	_, _ = n.j.db.Exec("UPDATE night SET lost = ? WHERE id = ?", why, n.id)
}
