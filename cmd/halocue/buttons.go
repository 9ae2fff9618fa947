package main

import (
	"errors"
	"fmt"
	"net"
	"os"

	"github.com/spf13/cobra"

	"halocue/audio/buttons"
)

// newButtonsCommand makes the command of the service that reads the keys, so that the one that
// reads the network need not.
func newButtonsCommand(*app) *cobra.Command {
	return &cobra.Command{
		Use:     "buttons [SOCKET]",
		Short:   "Read the buttons for a halocue that may not",
		Example: "halocue buttons /tmp/buttons",
		Hidden:  true,
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			socket := append(args, buttons.Socket)[0]
			if err := os.Remove(socket); err != nil && !errors.Is(err, os.ErrNotExist) { // of one that was killed
				return fmt.Errorf("listening for who asks: %w; choose another place", err)
			}
			l, err := net.Listen("unix", socket)
			if err != nil {
				return fmt.Errorf("listening for who asks: %w; choose another place", err)
			}
			buttons.Serve(cmd.Context(), l, buttons.Config{})
			return nil
		},
	}
}
