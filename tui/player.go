package tui

import (
	"context"
	"slices"
	"sort"
	"sync"
	"time"

	"strawline/control"
	"strawline/probe/temp"
)

// speeds that the keys choose from, times as fast as it was.
var speeds = [...]float64{1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000}

// checkEvery is how many records lie between two views that a Player keeps: so many are folded
// at most for a jump. 24 hours at 4 a second are 69 of them.
const checkEvery = 5000

// Player plays the records of a run as a Source. It is paused at the start until Toggle. Its
// methods may be called from any goroutine.
type Player struct {
	info   control.Info
	rec    []control.Record
	past   []control.Past
	checks []*control.View // checks[i] has taken the first i*checkEvery records
	now    func() time.Time

	mu      sync.Mutex
	view    *control.View
	done    int           // records that view has taken
	at      time.Duration // where the replay stood at since
	since   time.Time
	playing bool
	speed   float64
	dirty   bool
	changed chan struct{} // closed and made anew by every control
}

// NewPlayer makes a replay of a run's records, by rising time. now is the clock that paces it;
// nil for the real one. The records must not change later. Making it folds the whole run once.
func NewPlayer(info control.Info, records []control.Record, now func() time.Time) *Player {
	if now == nil {
		now = time.Now
	}
	p := &Player{info: info, rec: records, now: now, speed: 20, dirty: true,
		changed: make(chan struct{})}
	v := control.NewView(info)
	var tr control.Trace
	for i, r := range records {
		if i%checkEvery == 0 {
			p.checks = append(p.checks, v.Clone())
		}
		v.Apply(r)
		if s := r.Sample; s != nil {
			addSample(&tr, s)
		}
	}
	if len(p.checks) == 0 {
		p.checks = []*control.View{v.Clone()}
	}
	p.past = tr.Points()
	p.view = p.checks[0].Clone()
	p.since = now()
	return p
}

// addSample takes the control channel's temperature, channel 1, and the setpoint.
func addSample(tr *control.Trace, s *control.Sample) {
	var v, set temp.C
	has, hasSet := len(s.Temp) > 0 && s.Temp[0] != nil, s.Set != nil
	if has {
		v = temp.C(*s.Temp[0])
	}
	if hasSet {
		set = temp.C(*s.Set)
	}
	tr.Add(s.T, has, v, hasSet, set)
}

func timeOf(r control.Record) time.Duration {
	if r.Sample != nil {
		return r.Sample.T
	}
	if r.Event != nil {
		return r.Event.T
	}
	return 0
}

func (p *Player) length() time.Duration {
	if len(p.rec) == 0 {
		return 0
	}
	return timeOf(p.rec[len(p.rec)-1])
}

// position is where the replay stands now; the lock is held.
func (p *Player) position() time.Duration {
	at := p.at
	if p.playing {
		at += time.Duration(float64(p.now().Sub(p.since)) * p.speed)
	}
	return min(at, p.length())
}

// move changes how the replay goes on; f runs with the lock held and the position set down.
func (p *Player) move(f func()) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.at, p.since = p.position(), p.now()
	f()
	p.at = max(0, min(p.at, p.length()))
	p.dirty = true
	close(p.changed)
	p.changed = make(chan struct{})
}

// State says where the replay stands.
func (p *Player) State() PlayState {
	p.mu.Lock()
	defer p.mu.Unlock()
	at := p.position()
	return PlayState{Playing: p.playing && at < p.length(), Speed: p.speed, At: at,
		Length: p.length(), Wall: p.info.Start.Add(at)}
}

// Toggle plays or pauses; at the end it plays from the start.
func (p *Player) Toggle() {
	p.move(func() {
		if p.at >= p.length() {
			p.at, p.playing = 0, true
			return
		}
		p.playing = !p.playing
	})
}

// Faster takes the next speed, up to 2000 times.
func (p *Player) Faster() {
	p.move(func() {
		i := sort.Search(len(speeds)-1, func(i int) bool { return speeds[i] > p.speed })
		p.speed = max(p.speed, speeds[i])
	})
}

// Slower takes the speed before, down to once.
func (p *Player) Slower() {
	p.move(func() {
		i := sort.SearchFloat64s(speeds[:], p.speed)
		p.speed = speeds[max(0, i-1)]
	})
}

// SetSpeed plays times as fast as it was, 1 to 2000; what is outside or no number is put to
// the nearest end.
func (p *Player) SetSpeed(times float64) {
	if !(times >= speeds[0]) {
		times = speeds[0]
	}
	p.move(func() { p.speed = min(times, speeds[len(speeds)-1]) })
}

// Jump moves by d on the run's clock, back if it is below 0.
func (p *Player) Jump(d time.Duration) { p.move(func() { p.at += d }) }

// ToStart moves to the start.
func (p *Player) ToStart() { p.move(func() { p.at = 0 }) }

// ToEnd moves to the end.
func (p *Player) ToEnd() { p.move(func() { p.at = p.length() }) }

// NextEvent moves to the next event behind the present time; without one nothing moves. What
// the law does by itself is no event that anybody looks for.
func (p *Player) NextEvent() {
	p.move(func() {
		for _, r := range p.rec[p.upTo(p.at):] {
			if r.Event != nil && r.Event.Kind != control.EvLaw {
				p.at = r.Event.T
				return
			}
		}
	})
}

// upTo counts the records up to a time, that time included.
func (p *Player) upTo(t time.Duration) int {
	return sort.Search(len(p.rec), func(i int) bool { return timeOf(p.rec[i]) > t })
}

// seek brings the view to n records, from the nearest kept view if that is shorter.
func (p *Player) seek(n int) {
	k := n / checkEvery
	if k >= len(p.checks) {
		k = len(p.checks) - 1
	}
	if n < p.done || k*checkEvery > p.done {
		p.view, p.done = p.checks[k].Clone(), k*checkEvery
	}
	for ; p.done < n; p.done++ {
		p.view.Apply(p.rec[p.done])
	}
}

// Next blocks until there is something newer to show than what it gave last, and gives it. A
// replay has no end of its own: at the end of the records, and while paused, Next waits for a
// control or for ctx, whose error it gives.
func (p *Player) Next(ctx context.Context) (control.Snapshot, error) {
	for {
		s, fresh, wait, changed := p.look()
		if fresh {
			return s, nil
		}
		timer := time.NewTimer(wait)
		select {
		case <-ctx.Done():
			timer.Stop()
			return control.Snapshot{}, ctx.Err()
		case <-changed:
		case <-timer.C:
		}
		timer.Stop()
	}
}

// look gives the Snapshot of now if it is a new one, or else how long to wait for one.
func (p *Player) look() (s control.Snapshot, fresh bool, wait time.Duration, c chan struct{}) {
	p.mu.Lock()
	defer p.mu.Unlock()
	at := p.position()
	n := p.upTo(at)
	if p.dirty || n != p.done {
		p.dirty = false
		p.seek(n)
		return p.view.Snapshot(), true, 0, nil
	}
	wait = time.Hour
	if p.playing && n < len(p.rec) {
		gap := float64(timeOf(p.rec[n]) - at)
		wait = max(time.Millisecond, time.Duration(gap/p.speed))
	}
	return s, false, wait, p.changed
}

// Past gives the past up to where the replay stands.
func (p *Player) Past() []control.Past {
	p.mu.Lock()
	defer p.mu.Unlock()
	at := p.position()
	if p.done > 0 {
		at = timeOf(p.rec[p.done-1])
	}
	n := sort.Search(len(p.past), func(i int) bool { return p.past[i].At+control.PastSpan > at })
	return slices.Clone(p.past[:n])
}

// Ask does nothing: what has been cannot be asked for.
func (p *Player) Ask(control.Ask) {}
