package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"halocue/internal/plain"
	"halocue/internal/record"
	"halocue/internal/run/session"
)

// replayFlags are the flags of replay that are no settings.
type replayFlags struct {
	transcript, with             string
	sweep, pack, compare, turned bool
}

func newReplayCommand(a *app) *cobra.Command {
	var g replayFlags
	cmd := &cobra.Command{
		Use:   "replay FOLDER | --sweep FOLDER... | --compare FOLDER FOLDER | --pack FOLDER OUT.zip | FILE",
		Short: "Measure and coach a recorded night again",
		Long: `Measures the frames of a night that collimate --record kept, coaches them again with
the times and the settings of that night, prints what this halocue says, and where
it says something else than was said then. The hands in the recording did what
they were told then, so the two part ways where the cues differ.

A FILE that collimate --transcript wrote is coached again without its frames. Only
then settings count, which must be those of the night.`,
		Example: "halocue replay FOLDER\nhalocue replay --sweep ~/.local/state/halocue/nights\nhalocue replay --sweep --with ./halocue-before FOLDER FOLDER\n" +
			"halocue replay --compare --turned BEFORE AFTER\nhalocue replay --pack FOLDER night.zip",
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error { return a.replay(cmd, g, args) },
	}
	settingFlags(cmd, "telescope", "camera", "mirror_cell", "voice", "coach")
	f := cmd.Flags()
	f.Lookup("camera").Hidden = true
	f.StringVar(&g.transcript, "transcript", "", "`FILE` for the new transcript, - for standard output")
	f.BoolVar(&g.sweep, "sweep", false, "replay many recordings, or a folder of them, and print a table: better, worse or the same")
	f.StringVar(&g.with, "with", "", "with --sweep: another halocue, a `PROGRAM`, to compare with instead of what was said that night")
	f.BoolVar(&g.compare, "compare", false, "compare the axis points of two recordings with the standard deviations that were claimed")
	f.BoolVar(&g.turned, "turned", false, "with --compare: the camera was turned by half a turn in the focuser between them")
	f.BoolVar(&g.pack, "pack", false, "make one file of a recording, to be sent")
	return cmd
}

func (a *app) replay(cmd *cobra.Command, g replayFlags, args []string) error {
	want, names, ways := 1, "a FOLDER of collimate --record, or a FILE of collimate --transcript", 0
	for _, way := range []bool{g.sweep, g.compare, g.pack} {
		if way {
			ways++
		}
	}
	switch {
	case g.compare:
		want, names = 2, "two FOLDERs of collimate --record"
	case g.pack:
		want, names = 2, "a FOLDER of collimate --record, and an OUT.zip to make of it"
	case g.sweep:
		want = max(len(args), 1)
	}
	switch {
	case ways > 1 || g.with != "" && !g.sweep || g.turned && !g.compare:
		return usageError{errors.New("--sweep (with --with), --compare (with --turned) and --pack exclude each other: give one of them")}
	case len(args) != want:
		return usageError{fmt.Errorf("replay needs %s, and there are %d names", names, len(args))}
	}
	info, err := os.Stat(args[0])
	folder := err == nil && info.IsDir()
	if err := idleFlag(cmd, ways == 0, ways == 0 && !folder); err != nil {
		return err
	}
	switch {
	case g.sweep:
		return a.sweep(cmd.Context(), args, g.with)
	case g.compare:
		return a.compare(args[0], args[1], g.turned)
	case g.pack:
		return a.pack(args[0], args[1])
	case folder:
		return a.replayFolder(cmd.Context(), args[0], g.transcript)
	case strings.HasSuffix(strings.ToLower(args[0]), ".zip"):
		return fmt.Errorf("%s is a packed recording; unpack it (unzip %s -d FOLDER) and name the folder", args[0], args[0])
	}
	c, err := a.validSettings(cmd)
	if err != nil {
		return err
	}
	f, err := plain.Open(args[0])
	if err != nil {
		return fmt.Errorf("opening the transcript: %w; give a file that collimate --transcript wrote, or a folder of collimate --record", err)
	}
	defer f.Close()
	return session.Replay(cmd.Context(), &a.World, c, g.transcript, f)
}

// idleFlag refuses a flag that would have no effect: --camera always, because a replay
// opens none; settings with a recording, which has its own; --transcript with more than one
// night.
func idleFlag(cmd *cobra.Command, one, file bool) (err error) {
	cmd.Flags().Visit(func(f *pflag.Flag) {
		_, setting := f.Value.(*settingFlag)
		setting = setting || f.Name == "config" || f.Name == "profile"
		switch {
		case f.Name == "camera":
			err = usageError{errors.New("--camera does nothing in a replay, which opens no camera; leave it out")}
		case setting && !file:
			err = usageError{fmt.Errorf("--%s does nothing here, because a recording has its own settings; leave it out", f.Name)}
		case f.Name == "transcript" && !one:
			err = usageError{errors.New("--transcript does nothing here; give it with one FOLDER or FILE alone")}
		}
	})
	return err
}

func (a *app) replayFolder(ctx context.Context, folder, transcript string) error {
	out := a.Stdout
	if transcript == "-" {
		out = a.Stderr
	}
	r, err := session.ReplayFolder(ctx, &a.World, folder, transcript, out)
	if err != nil {
		return err
	}
	fmt.Fprintf(out, "Recorded with halocue %s, replayed with %s. %d sights, %d of them measured again from their frames.\n", plain.Text(r.Night.Version, 60), version(), r.Frames, r.Measured)
	for _, remark := range r.Remarks {
		fmt.Fprintln(out, plain.Text(remark, 1000))
	}
	if r.Night.Dropped+r.Night.Lines > 0 {
		fmt.Fprintf(out, "The disk was too slow for %d frames and %d lines that night.\n", r.Night.Dropped, r.Night.Lines)
	}
	fmt.Fprintf(out, "That night: %s. Today: %s.\n", ended(r.Then), ended(r.Now))
	i := record.FirstDifference(r.Then, r.Now)
	if i < 0 {
		_, err = fmt.Fprintf(out, "All %d cues are the same, word for word.\n", len(r.Then.Said))
		return err
	}
	_, err = fmt.Fprintf(out, "The first %d cues are the same. Then, that night: %s. Today: %s.\n", i, cueAt(r.Then, i), cueAt(r.Now, i))
	return err
}

// ended says how a night ended.
func ended(s record.Story) string {
	return fmt.Sprintf("%s at %.0f s", cmp.Or(plain.Text(s.Result, 40), "no claim"), s.Ended)
}

func cueAt(s record.Story, i int) string {
	if i >= len(s.Said) {
		return "nothing"
	}
	return fmt.Sprintf("at %.1f s %q", s.Said[i].T, s.Said[i].Text)
}

func (a *app) sweep(ctx context.Context, folders []string, other string) error {
	all, err := session.Recordings(folders)
	if err != nil {
		return err
	}
	then := cmp.Or(other, "THAT NIGHT")
	table := tabwriter.NewWriter(a.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintf(table, "RECORDING\t%s\tTODAY\tPARTING AT\tTODAY IS\n", plain.Text(then, 40))
	counts := map[string]int{}
	err = session.Sweep(ctx, &a.World, all, other, func(c session.Compared) {
		name := plain.Text(c.Folder, 100)
		if c.Err != nil {
			counts["not replayed"]++
			fmt.Fprintf(table, "%s\tnot replayed: %s\t\t\t\n", name, plain.Text(c.Err.Error(), 300))
			return
		}
		parting := "-"
		if i := record.FirstDifference(c.Then, c.Now); i >= 0 {
			parting = fmt.Sprintf("cue %d", i+1)
		}
		counts[c.Verdict]++
		fmt.Fprintf(table, "%s\t%s\t%s\t%s\t%s\n", name, ended(c.Then), ended(c.Now), parting, c.Verdict)
	})
	err = errors.Join(err, table.Flush())
	fmt.Fprintf(a.Stdout, "%d recordings:", len(all))
	for i, v := range []string{"same", "same claim", "better", "worse", "not replayed"} {
		fmt.Fprintf(a.Stdout, "%s %d %s", map[bool]string{true: ",", false: ""}[i > 0], counts[v], v)
	}
	fmt.Fprintln(a.Stdout, ".\nBetter is a claim where there was none, or a sooner one. Whether it is true, a recording cannot tell.")
	return err
}

// enough is how many standard deviations two measurements of one thing may lie apart: in two
// directions one in a hundred pairs does (the root of minus twice the logarithm of 0.01).
const enough = 3.03

func (a *app) compare(one, two string, turned bool) error {
	var claims [2]record.Claim
	for i, folder := range []string{one, two} {
		if _, _, err := record.Read(folder); err != nil {
			return err
		}
		s, err := record.ReadStoryIn(folder)
		if err != nil {
			return err
		}
		claims[i] = s.Claim
		fmt.Fprintf(a.Stdout, "%s: %s, axis point %.3f, %.3f mm from the target, one sigma %.3f, %.3f mm, %.2f tolerances, bound %.2f.\n", plain.Text(folder, 100), ended(s),
			s.Claim.Axis.X, s.Claim.Axis.Y, s.Claim.Sigma.X, s.Claim.Sigma.Y, s.Claim.Ratio, s.Claim.Bound)
	}
	mm, sigmas, err := record.Agreement(claims[0], claims[1], turned)
	if err != nil {
		return err
	}
	verdict := "They agree."
	if sigmas > enough {
		verdict = fmt.Sprintf("They do not agree: by chance one pair in a hundred is more than %.1f apart.", enough)
	}
	_, err = fmt.Fprintf(a.Stdout, "Difference %.3f mm, %.1f standard deviations. %s\n", mm, sigmas, verdict)
	return err
}

func (a *app) pack(folder, file string) error {
	p, err := record.Pack(folder, file)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(a.Stdout, "%s holds %d frames, the transcript, the settings, and the journal's rows if a journal was kept: %.1f MB. Place, host and paths are left out; other files, %d, stayed outside. "+
		"Your knobs are named in it as you named them: %s. Nothing was sent.\n", file, p.Frames, float64(p.Bytes)/1e6, p.Others, plain.Text(strings.Join(p.Knobs, ", "), 200))
	return err
}
