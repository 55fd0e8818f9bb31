package sim

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"sync"
	"time"

	"strawline/probe"
	"strawline/probe/board"
	"strawline/probe/plant"
	"strawline/probe/temp"
)

// ErrClosed is what a Board gives after Close.
var ErrClosed = errors.New("the simulated board is closed")

var errNoLink = errors.New("the simulated board has no link: call Memory or Pty first")

// link carries bytes between host and board.
type link interface {
	take(dst []byte) error // fills dst with host bytes
	here(dst []byte) int   // the host bytes that are there now; never waits
	give(p []byte) int     // takes board bytes and gives how many fitted
	flush()                // forgets what is under way in both directions
	unplug() error
	plug() error
	close() error
}

// Board is a simulated board with its oven. All methods may be called from any goroutine.
type Board struct {
	mu     sync.Mutex
	cfg    Config
	link   link
	closed bool

	now     time.Duration
	oven    *plant.Oven
	front   front
	noise   *rand.Rand // of the garbage
	keep    eeprom
	program firmware
	plain   plain // only with Config.Plain

	powered bool
	running bool          // the bootloader is over
	bootAt  time.Duration // when the program starts
	cause   board.Cause   // of the start under way
	pulled  bool          // the cable, by a person
	out     bool          // the cable, by a person or a fault
	door    bool          // opened by a person
	ajar    bool          // open, by a person or a fault
	half    uint64        // mains half cycles begun
	on      bool          // output in the present mains cycle

	open      bool // a host has the link open
	got, said uint64
	in        []byte

	hung     bool    // the program
	volts    float64 // of the mains, as a share of what they should have
	astray   float64 // °C, what the probe of channel 1 reads too much
	fell     temp.C  // of the bead of channel 1, wherever it is
	lastWord uint32  // of channel 1
	truth    Truth
}

// New gives a board that was just given power, and has no link yet.
func New(cfg Config) *Board {
	cfg = cfg.withDefaults()
	b := &Board{cfg: cfg, oven: plant.New(cfg.Plant, cfg.Start), volts: 1}
	if !cfg.Blade {
		b.oven.BladeOut()
	}
	// Streams of their own, so that one fault does not change the noise of all that follows.
	b.front = front{noise: cfg.Noise, room: cfg.Plant.Room, cold: float64(cfg.Plant.Room),
		rand: rand.New(rand.NewPCG(cfg.Seed, 1))}
	b.noise = rand.New(rand.NewPCG(cfg.Seed, 2))
	if cfg.Plain != nil {
		b.plain.cfg = cfg.Plain.withDefaults()
	}
	about := cfg.about()
	b.keep = cfg.eeprom(about.CeilingQ)
	b.program = firmware{fixed: about, keep: &b.keep, broken: cfg.Broken}
	b.start(board.CausePower)
	b.fell = b.oven.Probe()
	b.look(0)
	return b
}

// start begins the boot: the board is deaf and its output off until the program runs.
func (b *Board) start(cause board.Cause) {
	b.powered, b.running, b.on = true, false, false
	b.bootAt, b.cause = b.now+BootTime, cause
	b.keep.boots++
}

// Opened tells the board that a host has opened the link: DTR resets it unless it stands apart,
// the counts of Grant begin at 0, and bytes of an earlier opening are forgotten. Call it before the
// first write.
func (b *Board) Opened() {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.closed || b.link == nil || b.out {
		return
	}
	b.link.flush()
	b.open, b.got, b.said = true, 0, 0
	if !b.cfg.Apart {
		b.start(board.CauseReset)
	}
}

// Closed tells the board that a host has closed the link and is not counted with any more, so that
// another host may open it.
func (b *Board) Closed() {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.open, b.got, b.said = false, 0, 0
}

// Grant takes the host's bytes until it has had sent of them in this opening, advances the
// simulation by 250 ms, and gives the count of bytes that the board has written to this
// opening. It is an error if the bytes are not there (on a pseudo-terminal: within a minute of
// the wall clock), if fewer are granted than were taken, or if the link fails.
func (b *Board) Grant(sent uint64) (said uint64, err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch {
	case b.closed:
		return b.said, ErrClosed
	case b.link == nil:
		return 0, errNoLink
	}
	host, err := b.take(sent)
	if err != nil {
		return b.said, err
	}
	if err := b.events(); err != nil {
		return b.said, err
	}
	b.run(host)
	switch {
	case !b.open:
		return 0, nil
	case b.out:
		return b.said + 1, nil
	}
	return b.said, nil
}

// Free advances the simulation by 250 ms with the host bytes that happen to be there, for a host
// that knows nothing of grants: another program on the pseudo-terminal. Whoever calls it keeps
// the time, and since an opening cannot be seen from this side the board does not restart at one.
// What comes of it is not the same twice.
func (b *Board) Free() error {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch {
	case b.closed:
		return ErrClosed
	case b.link == nil:
		return errNoLink
	}
	var host []byte
	if !b.out {
		b.open = true
		buf := make([]byte, 512)
		host = buf[:b.link.here(buf)]
		b.got += uint64(len(host))
	}
	if err := b.events(); err != nil {
		return err
	}
	b.run(host)
	return nil
}

// take reads the host's bytes up to a count of sent.
func (b *Board) take(sent uint64) ([]byte, error) {
	if !b.open || b.out {
		return nil, nil
	}
	if sent < b.got {
		return nil, fmt.Errorf("granted %d host bytes after %d were taken", sent, b.got)
	}
	n := sent - b.got
	if n > linkSize {
		return nil, fmt.Errorf("granted %d host bytes at once, at most %d fit", n, linkSize)
	}
	if uint64(cap(b.in)) < n {
		b.in = make([]byte, n)
	}
	b.in = b.in[:n]
	if err := b.link.take(b.in); err != nil {
		return nil, err
	}
	b.got = sent
	return b.in, nil
}

// linkSize bounds what is under way in one direction.
const linkSize = 1 << 16

// stands reports whether a fault of kind k stands now.
func (b *Board) stands(k Kind) bool {
	for _, f := range b.cfg.Faults {
		if f.Kind == k && f.on(b.now) {
			return true
		}
	}
	return false
}

// events lets the faults that concern power, door and restart begin and end.
func (b *Board) events() error {
	b.ajar = b.door || b.stands(DoorOpen)
	b.oven.SetDoor(b.ajar)
	switch out := b.pulled || b.stands(Unplug); {
	case out && !b.out:
		b.out = true
		if !b.cfg.Apart {
			b.powered, b.running, b.on = false, false, false
		}
		return b.link.unplug()
	case !out && b.out:
		// Whoever had the old device open must open the new one.
		b.open, b.got, b.said, b.out = false, 0, 0, false
		if !b.cfg.Apart {
			b.start(board.CausePower)
		}
		return b.link.plug()
	}
	hung := b.hung
	b.hung = b.running && b.stands(Hang)
	if b.powered && (b.stands(Restart) || hung && !b.hung && b.running) {
		b.start(board.CauseWatchdog)
	}
	return nil
}

// run advances board and oven by one Step.
func (b *Board) run(host []byte) {
	if b.powered && !b.running && b.now >= b.bootAt {
		b.running = true
		if b.cfg.Plain == nil {
			b.program.boot(b.now, b.cause)
		}
	}
	if b.running && b.cfg.Plain == nil && !b.stands(HostSilent) && !b.hung {
		b.program.hear(b.now, host)
	}
	var watts float64
	if b.cfg.Plain == nil {
		watts = b.heat()
	} else {
		watts = b.thermostat()
	}
	watts = b.power(watts)
	b.oven.Step(watts)
	b.fall()
	b.front.warm(b.stands(WarmBoard))
	b.wanders()
	fault := b.fault()
	garbage, mute := b.stands(Garbage), b.stands(Mute)
	b.now += Step
	switch {
	case !b.running || b.hung:
	case b.cfg.Plain == nil:
		b.convert(fault)
	default:
		b.print(fault)
	}
	if mute {
		b.program.out = b.program.out[:0]
	}
	b.send(garbage)
	b.look(watts)
}

// heat drives the output for one Step and gives the mean power. A mains cycle may straddle
// two Steps, so that halves are counted; the board decides for whole cycles.
func (b *Board) heat() (watts float64) {
	halves := int(b.program.stored().MainsHz) / 2 // in 250 ms: 25 or 30
	on := 0
	if b.program.command.PerMille() == 0 {
		b.on = false // within a cycle as well
	}
	for range halves {
		if b.half%2 == 0 && !b.hung { // a program that hangs leaves its output as it is
			b.on = b.running && b.program.cycle()
		}
		b.half++
		if b.on {
			on++
		}
	}
	share := float64(on) / float64(halves)
	b.truth.On += time.Duration(share * float64(Step))
	return b.cfg.Plant.HeaterW * share
}

// power is what reaches the air of the power that the output asks for.
func (b *Board) power(watts float64) float64 {
	if b.stands(SSRShort) {
		watts = b.cfg.Plant.HeaterW
	}
	watts *= b.volts * b.volts
	if b.stands(Sag) {
		watts *= 0.9 * 0.9
	}
	switch {
	case b.stands(NoHeat):
		return 0
	case b.stands(Weak):
		return watts / 2
	}
	return watts
}

// fall moves the bead of a probe that fell out on by one Step.
func (b *Board) fall() {
	if !b.stands(Fallen) {
		b.fell = b.oven.Probe()
		return
	}
	share := -math.Expm1(-Step.Seconds() / b.cfg.Plant.ProbeLag)
	b.fell = b.fell.Add(b.front.room.Sub(b.fell) * temp.Delta(share))
}

// felt is what the thermocouple of channel 1 gives. With its leads swapped its emf counts the
// other way, so that it reads as far below the cold junction as it is above; with its leads
// together where they leave the board it has none.
func (b *Board) felt() temp.C {
	hot := b.fell.Add(temp.Delta(b.astray))
	if b.stands(LeadShort) {
		return temp.C(b.front.cold)
	}
	if b.stands(Reversed) {
		hot = temp.C(b.front.cold).Add(temp.C(b.front.cold).Sub(hot))
	}
	return hot
}

// wanders moves on what the probe of channel 1 reads too much, by one Step.
func (b *Board) wanders() {
	const most = wanderMinute / float64(time.Minute/Step)
	to := 0.0
	if b.stands(WanderUp) {
		to += wanderMost
	}
	if b.stands(WanderDown) {
		to -= wanderMost
	}
	b.astray += max(-most, min(most, to-b.astray))
}

// fault is what the chip of channel 1 finds wrong with its thermocouple.
func (b *Board) fault() probe.Fault {
	switch {
	case b.stands(Open):
		return probe.FaultOpen
	case b.stands(ShortGround):
		return probe.FaultShortGround
	case b.stands(ShortSupply):
		return probe.FaultShortSupply
	}
	return probe.FaultNone
}

// frozen gives the word, or the last one before the chip froze.
func (b *Board) frozen(word uint32) uint32 {
	if b.stands(Frozen) {
		return b.lastWord
	}
	b.lastWord = word
	return word
}

// convert converts every channel, has the guard channel judged, and tells all of them.
func (b *Board) convert(fault probe.Fault) {
	var words [2]uint32
	words[0] = b.frozen(b.front.word(b.felt(), fault))
	words[1] = b.front.word(b.second(), probe.FaultNone)
	b.program.judge(b.now, words[b.program.stored().Guard-1])
	if !b.program.heats() {
		b.on = false
	}
	for c := range b.cfg.channels() {
		b.program.tell(b.now, c+1, words[c])
	}
}

// second gives what the probe of channel 2 is at.
func (b *Board) second() temp.C {
	switch blade := b.oven.Blade(); {
	case !b.cfg.BladeProbe:
		return b.front.room
	case math.IsNaN(float64(blade)):
		return b.oven.Air()
	default:
		return blade
	}
}

// send writes the program's lines to the host. What does not fit is lost, as on a wire.
func (b *Board) send(garbage bool) {
	out := b.program.out
	b.program.out = out[:0]
	if garbage {
		for i := range out {
			if b.noise.IntN(4) == 0 {
				out[i] ^= byte(1 + b.noise.IntN(255))
			}
		}
	}
	if b.open && !b.out {
		b.said += uint64(b.link.give(out))
	}
}

// Close takes the link away and leaves nothing behind.
func (b *Board) Close() error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.closed {
		return nil
	}
	b.closed = true
	if b.link == nil {
		return nil
	}
	return b.link.close()
}
