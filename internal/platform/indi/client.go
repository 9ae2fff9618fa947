package indi

import (
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"maps"
	"net"
	"sort"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"

	"halocue/internal/plain"
)

// ErrGone says that the connection to the server ended.
var ErrGone = errors.New("the connection to the INDI server ended")

// Client is a connection to a server. A goroutine reads what the server says
// until Close or the connection's end. Its methods may be called from anywhere.
type Client struct {
	conn  net.Conn
	ended chan struct{}
	write sync.Mutex

	mu       sync.Mutex
	props    map[[2]string]*Property
	kept     weight // of props
	only     string // the device whose properties are kept; "": all
	blobs    map[[2]string]BLOB
	expected map[[2]string]int // how many bytes a BLOB of the property may have, until one has come
	messages map[string]string // the last remark on each device
	changed  chan struct{}     // closed and replaced at each change
	err      error             // why it ended
}

// Dial connects to a server, "host" or "host:port", and asks for all its
// properties.
func Dial(ctx context.Context, address string) (*Client, error) {
	if _, _, err := net.SplitHostPort(address); err != nil {
		address = net.JoinHostPort(strings.Trim(address, "[]"), defaultPort)
	}
	dialer := net.Dialer{Timeout: 10 * time.Second}
	conn, err := dialer.DialContext(ctx, "tcp", address)
	if err != nil {
		if errors.Is(err, syscall.EPERM) {
			return nil, fmt.Errorf("connecting to the INDI server: %w; allow the service its address: systemctl edit halocue, [Service], IPAddressAllow=ADDRESS", err)
		}
		return nil, fmt.Errorf("connecting to the INDI server: %w; check that it runs there", err)
	}
	c := &Client{
		conn: conn, ended: make(chan struct{}), changed: make(chan struct{}),
		props: map[[2]string]*Property{}, blobs: map[[2]string]BLOB{}, messages: map[string]string{},
		expected: map[[2]string]int{},
	}
	go c.read(newDecoder(conn, c.most))
	if err := c.send(`<getProperties version="1.7"/>`); err != nil {
		return nil, errors.Join(err, c.Close())
	}
	return c, nil
}

// Close ends the connection and the goroutine.
func (c *Client) Close() error {
	err := c.conn.Close()
	<-c.ended
	if errors.Is(err, net.ErrClosed) {
		return nil
	}
	return err
}

func (c *Client) read(d *decoder) {
	defer close(c.ended)
	defer c.conn.Close()
	for {
		m, err := d.next()
		c.mu.Lock()
		if err == nil {
			err = c.take(m)
		}
		if err != nil {
			if err == io.EOF {
				err = errors.New("it closed the connection")
			}
			c.err = fmt.Errorf("%w: %s; check the server and its drivers", ErrGone, plain.Text(err.Error(), maxRemark))
		}
		close(c.changed)
		c.changed = make(chan struct{})
		c.mu.Unlock()
		if err != nil {
			return
		}
	}
}

// weight is what properties take.
type weight struct{ parts, text int }

func weigh(p *Property) weight {
	w := weight{1, len(p.Device) + len(p.Name) + len(p.State)}
	for name, e := range p.Elements {
		w.parts++
		w.text += len(name) + len(e.Text)
	}
	return w
}

// keep puts p, or with nil nothing, in the place of the property. The lock is held.
func (c *Client) keep(key [2]string, p *Property) error {
	if old := c.props[key]; old != nil {
		w := weigh(old)
		c.kept.parts -= w.parts
		c.kept.text -= w.text
		delete(c.props, key)
	}
	if p == nil {
		return nil
	}
	w := weigh(p)
	c.kept.parts += w.parts
	c.kept.text += w.text
	c.props[key] = p
	if c.kept.parts > maxKept || c.kept.text > maxText {
		return errTooLong
	}
	return nil
}

// ours reports whether the property is kept: once the device is known, of others
// only what they are.
func (c *Client) ours(key [2]string) bool {
	return c.only == "" || key[0] == c.only || key[1] == "DRIVER_INFO"
}

// keepOnly drops all but the device's properties, now and in future.
func (c *Client) keepOnly(device string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.only = device
	for key := range c.props {
		if !c.ours(key) {
			_ = c.keep(key, nil) // what is dropped takes no room
		}
	}
	for name := range c.messages {
		if name != device {
			delete(c.messages, name)
		}
	}
}

// take applies one message. The lock is held.
func (c *Client) take(m message) error {
	_, known := c.messages[m.device]
	if m.text != "" && (c.only == "" || m.device == c.only) && (known || len(c.messages) < maxDevices) {
		c.messages[m.device] = plain.Text(m.text, maxRemark)
	}
	key := [2]string{m.device, m.property}
	var p *Property
	switch {
	case m.name == "delProperty":
		for k := range c.props {
			if k == key || m.property == "" && k[0] == m.device {
				_ = c.keep(k, nil) // what is dropped takes no room
			}
		}
		return nil
	case !c.ours(key):
		return nil
	case strings.HasPrefix(m.name, "def"):
		p = &Property{Device: m.device, Name: m.property, Elements: map[string]Element{}}
	case strings.HasPrefix(m.name, "set") && c.props[key] != nil:
		old := c.props[key]
		p = &Property{Device: old.Device, Name: old.Name, State: old.State, Elements: maps.Clone(old.Elements)}
	default:
		return nil // never defined: nothing we asked for
	}
	if m.state != "" {
		p.State = m.state
	}
	for _, e := range m.elements {
		old := p.Elements[e.name]
		now := Element{Text: e.text, Number: parseNumber(e.text), On: e.text == "On", Min: old.Min, Max: old.Max, Step: old.Step}
		for _, bound := range []struct {
			text string
			to   *float64
		}{{e.min, &now.Min}, {e.max, &now.Max}, {e.step, &now.Step}} {
			if bound.text != "" {
				*bound.to = parseNumber(bound.text)
			}
		}
		p.Elements[e.name] = now
	}
	for _, b := range m.blobs {
		key := [2]string{b.Device, b.Property}
		if c.expected[key] > 0 {
			delete(c.expected, key)
			c.blobs[key] = b
		}
	}
	return c.keep(key, p)
}

// most is how many bytes the next BLOB of a property may have; 0: it is not wanted.
func (c *Client) most(device, property string) int {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.expected[[2]string{device, property}]
}

// Wait returns when cond holds, which it asks now and after each message from
// the server; or when ctx or the connection ends. Cond may call Get, BLOB and
// the other methods that only look.
func (c *Client) Wait(ctx context.Context, cond func() bool) error {
	for {
		c.mu.Lock()
		changed, err := c.changed, c.err
		c.mu.Unlock()
		if cond() {
			return nil
		}
		if err != nil {
			return err
		}
		select {
		case <-changed:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// Err tells why the connection has ended; nil while it has not.
func (c *Client) Err() error {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.err
}

// Get returns a copy of a property, false where the device has not defined it.
func (c *Client) Get(device, name string) (Property, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	p := c.props[[2]string{device, name}]
	if p == nil {
		return Property{}, false
	}
	copied := *p
	copied.Elements = maps.Clone(p.Elements)
	return copied, true
}

// Devices lists the devices with one of the interface bits, by name.
func (c *Client) Devices(bits int) []string {
	c.mu.Lock()
	defer c.mu.Unlock()
	var names []string
	for k, p := range c.props {
		if k[1] != "DRIVER_INFO" {
			continue
		}
		if has, err := strconv.Atoi(p.Elements["DRIVER_INTERFACE"].Text); err == nil && has&bits != 0 {
			names = append(names, k[0])
		}
	}
	sort.Strings(names)
	return names
}

// Message is the last remark the server made on the device, or "".
func (c *Client) Message(device string) string {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.messages[device]
}

// Expect drops a BLOB of the property that waits, and lets one more come, of at most
// most bytes. All others are passed over unread.
func (c *Client) Expect(device, property string, most int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	key := [2]string{device, property}
	delete(c.blobs, key)
	c.expected[key] = min(most, MaxBLOB)
}

// TakeBLOB returns the BLOB that was expected, once it has come.
func (c *Client) TakeBLOB(device, property string) (BLOB, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	key := [2]string{device, property}
	b, ok := c.blobs[key]
	delete(c.blobs, key)
	return b, ok
}

// EnableBLOBs asks for the device's BLOBs besides all else; see Expect.
func (c *Client) EnableBLOBs(device string) error {
	return c.send(`<enableBLOB device="` + escape(device) + `">Also</enableBLOB>`)
}

// SetSwitch turns one switch of a property on.
func (c *Client) SetSwitch(device, property, element string) error {
	return c.set("Switch", device, property, map[string]string{element: "On"})
}

// SetNumbers asks for new values of a number property. The property is busy from
// here on, until the driver says otherwise.
func (c *Client) SetNumbers(device, property string, values map[string]float64) error {
	texts := map[string]string{}
	for name, v := range values {
		texts[name] = strconv.FormatFloat(v, 'g', -1, 64)
	}
	return c.set("Number", device, property, texts)
}

func (c *Client) set(kind, device, property string, values map[string]string) error {
	c.mu.Lock()
	if p := c.props[[2]string{device, property}]; p != nil {
		p.State = Busy // so that nobody takes the old answer for the new one
	}
	c.mu.Unlock()
	var b strings.Builder
	fmt.Fprintf(&b, `<new%sVector device="%s" name="%s">`, kind, escape(device), escape(property))
	for name, v := range values {
		fmt.Fprintf(&b, `<one%s name="%s">%s</one%s>`, kind, escape(name), escape(v), kind)
	}
	fmt.Fprintf(&b, `</new%sVector>`, kind)
	return c.send(b.String())
}

func (c *Client) send(text string) error {
	c.write.Lock()
	defer c.write.Unlock()
	err := c.conn.SetWriteDeadline(time.Now().Add(10 * time.Second))
	if err == nil {
		_, err = io.WriteString(c.conn, text+"\n")
	}
	switch why := c.Err(); {
	case err == nil:
		return nil
	case why != nil: // the reader knows better
		return why
	}
	return fmt.Errorf("%w: %w; check the server and its drivers", ErrGone, err)
}

func escape(s string) string {
	var b strings.Builder
	if err := xml.EscapeText(&b, []byte(s)); err != nil {
		return "" // a strings.Builder does not fail
	}
	return b.String()
}
