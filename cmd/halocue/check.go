package main

import (
	"github.com/spf13/cobra"

	"halocue/internal/checkup"
	"halocue/internal/simulate/virtual"
)

func newCheckCommand(a *app) *cobra.Command {
	var path string
	var json, list bool
	cmd := &cobra.Command{
		Use:   "check",
		Short: "Try settings, camera, sound, voice, disk and clock, and say how they are",
		Long: `Tries settings, camera, sound, voice, disk and clock in turn. Each is one line,
printed and spoken: fine, or what is wrong and what to do about it. The status is
1 if something is wrong without which no night can be.`,
		Example: "halocue check\nhalocue check --list\nhalocue check --camera virtual --profile dobson",
		Args:    noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if list {
				return checkup.List(&a.World, json)
			}
			c, err := a.settings(cmd)
			_, isVirtual, bad := virtual.Seed(c.Camera.Source)
			if err == nil {
				if isVirtual {
					c = virtual.Settings(c, virtual.Night(0, c))
				}
				err = c.Validate()
			}
			return checkup.Run(cmd.Context(), &a.World, checkup.Job{
				Settings: c, Unfit: err, Virtual: isVirtual, NoCamera: bad, Journal: path, JSON: json,
			})
		},
	}
	settingFlags(cmd, "telescope", "camera", "mirror_cell", "sound", "voice", "drive")
	cmd.Flags().StringVar(&path, "journal", "", "`FILE` of the journal, if it is not in its usual place, or none")
	cmd.Flags().BoolVar(&json, "json", false, "print JSON lines, one for each part, and speak nothing")
	cmd.Flags().BoolVar(&list, "list", false, "only list the cameras and sound devices that there are, by number")
	return cmd
}
