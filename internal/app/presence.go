package app

import (
	"fmt"
	"os"
	"syscall"

	"winterstand/internal/outside/settings"
)

// presence is a mark that this process is at work on an embedded database. A
// process that is killed loses it.
type presence struct {
	file  *os.File
	alone bool // no other was at work when this one came
}

// enter marks this process as at work; on a server database, where others may
// be anywhere, it is never alone. Leave gives the mark back.
func enter(s settings.Settings) (presence, error) {
	kind, path, err := s.DatabaseKind()
	if err != nil || kind != "sqlite" {
		return presence{}, err
	}
	file, err := os.OpenFile(path+".lock", os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return presence{}, fmt.Errorf("mark the database as in use: %w", err)
	}
	p := presence{file: file, alone: syscall.Flock(int(file.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) == nil}
	if err := syscall.Flock(int(file.Fd()), syscall.LOCK_SH); err != nil {
		return presence{}, fmt.Errorf("mark the database as in use: %s: %w", path+".lock", err)
	}
	return p, nil
}

func (p presence) leave() error {
	if p.file == nil {
		return nil
	}
	return p.file.Close() // which ends the lock
}
