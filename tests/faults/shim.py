"""A failing disk without privileges: a small library that Linux loads in front of the C library.

    shim = build_shim(folder)                    skips the test where there is no C compiler, or no Linux
    env = shim.reading(path_part, after_bytes)   reads of files whose path holds `path_part` fail with EIO
                                                 from that offset on
    env = shim.unplugged(path_part, after_bytes) once so many bytes were read of such files altogether, every
                                                 read of them fails with EIO and no more can be opened
    env = shim.full(path_part, after_bytes)      writes to such files fail with ENOSPC once so many bytes
                                                 were written

The environment goes to a child process and all of its own children.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

SOURCE = r"""
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/types.h>
#include <unistd.h>

static long total_read, total_written;

static int ours(const char *path) {
    const char *part = getenv("FAULT_PATH");
    return part && path && strstr(path, part) != NULL;
}

static int ours_fd(int fd) {
    char link[64], path[4096];
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t length = readlink(link, path, sizeof path - 1);
    if (length < 0) return 0;
    path[length] = 0;
    return ours(path);
}

static int mode_is(const char *name) {
    const char *mode = getenv("FAULT_MODE");
    return mode && strcmp(mode, name) == 0;
}

static long after(void) {
    const char *text = getenv("FAULT_AFTER");
    return text ? atol(text) : 0;
}

static int refuses_read(int fd, long offset, size_t count) {
    if (mode_is("full") || !ours_fd(fd)) return 0;
    if (mode_is("unplugged")) {
        if (total_read >= after()) return 1;
        total_read += count;
        return 0;
    }
    return offset + (long)count > after();
}

ssize_t read(int fd, void *buffer, size_t count) {
    static ssize_t (*real)(int, void *, size_t);
    if (!real) real = dlsym(RTLD_NEXT, "read");
    if (refuses_read(fd, lseek(fd, 0, SEEK_CUR), count)) { errno = EIO; return -1; }
    return real(fd, buffer, count);
}

ssize_t pread64(int fd, void *buffer, size_t count, off64_t offset) {
    static ssize_t (*real)(int, void *, size_t, off64_t);
    if (!real) real = dlsym(RTLD_NEXT, "pread64");
    if (refuses_read(fd, offset, count)) { errno = EIO; return -1; }
    return real(fd, buffer, count, offset);
}

static int refuses_write(int fd, size_t count) {
    if (!mode_is("full") || !ours_fd(fd)) return 0;
    total_written += count;
    return total_written > after();
}

ssize_t write(int fd, const void *buffer, size_t count) {
    static ssize_t (*real)(int, const void *, size_t);
    if (!real) real = dlsym(RTLD_NEXT, "write");
    if (refuses_write(fd, count)) { errno = ENOSPC; return -1; }
    return real(fd, buffer, count);
}

ssize_t pwrite64(int fd, const void *buffer, size_t count, off64_t offset) {
    static ssize_t (*real)(int, const void *, size_t, off64_t);
    if (!real) real = dlsym(RTLD_NEXT, "pwrite64");
    if (refuses_write(fd, count)) { errno = ENOSPC; return -1; }
    return real(fd, buffer, count, offset);
}

static int refuses_open(const char *path) {
    return mode_is("unplugged") && ours(path) && total_read >= after();
}

#define OPEN(NAME)                                                        \
    int NAME(const char *path, int flags, ...) {                          \
        static int (*real)(const char *, int, ...);                       \
        if (!real) real = dlsym(RTLD_NEXT, #NAME);                        \
        va_list rest;                                                     \
        va_start(rest, flags);                                            \
        mode_t mode = va_arg(rest, mode_t);                               \
        va_end(rest);                                                     \
        if (refuses_open(path)) { errno = ENODEV; return -1; }            \
        return real(path, flags, mode);                                   \
    }
OPEN(open)
OPEN(open64)
"""


@dataclass(frozen=True, slots=True)
class Shim:
    """The library's place."""

    library: Path

    def _env(self, mode: str, path_part: str, after_bytes: int) -> dict[str, str]:
        return {
            **os.environ, "LD_PRELOAD": str(self.library), "FAULT_MODE": mode, "FAULT_PATH": path_part,
            "FAULT_AFTER": str(after_bytes),
        }  # fmt: skip

    def reading(self, path_part: str, after_bytes: int) -> dict[str, str]:
        """Environment in which reads past an offset fail."""
        return self._env("reading", path_part, after_bytes)

    def unplugged(self, path_part: str, after_bytes: int) -> dict[str, str]:
        """Environment in which a drive goes away while it is read."""
        return self._env("unplugged", path_part, after_bytes)

    def full(self, path_part: str, after_bytes: int) -> dict[str, str]:
        """Environment in which a disk runs full."""
        return self._env("full", path_part, after_bytes)


def build_shim(folder: Path) -> Shim:
    """Compiles the library into `folder`."""
    compiler = shutil.which("cc") or shutil.which("gcc")
    if not sys.platform.startswith("linux") or compiler is None:
        pytest.skip("a failing disk is made by a library that needs Linux and a C compiler")
    source, library = folder / "fault.c", folder / "fault.so"
    source.write_text(SOURCE, encoding="ascii")
    subprocess.run(
        [compiler, "-shared", "-fPIC", "-O1", "-o", library, source, "-ldl"], check=True, capture_output=True
    )
    return Shim(library)
