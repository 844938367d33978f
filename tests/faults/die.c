/* Preloaded before SQLite: counts what is written into a journal, and dies at the chosen one as by kill -9.
 *
 * die_at: at which write, from 1; 0 never.  die_how: 0 before it, 1 in the midst of it, 2 after it.
 * A write is pwrite, fsync, fdatasync or ftruncate of a file whose name has "journal.sqlite" in it.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/types.h>
#include <unistd.h>

int die_at = 0, die_how = 0, die_count = 0;

static int journal(int fd) {
    char link[64], name[512];
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t size = readlink(link, name, sizeof name - 1);
    if (size < 0) return 0;
    name[size] = 0;
    return strstr(name, "journal.sqlite") != NULL;
}

static void die(void) { kill(getpid(), SIGKILL); pause(); }

static int due(int fd) { return journal(fd) && ++die_count == die_at; }

ssize_t pwrite64(int fd, const void *data, size_t size, off64_t at) {
    static ssize_t (*real)(int, const void *, size_t, off64_t);
    if (!real) real = dlsym(RTLD_NEXT, "pwrite64");
    int now = due(fd);
    if (now && die_how == 0) die();
    if (now && die_how == 1) { real(fd, data, size / 2, at); die(); }
    ssize_t wrote = real(fd, data, size, at);
    if (now) die();
    return wrote;
}

ssize_t pwrite(int fd, const void *data, size_t size, off_t at) { return pwrite64(fd, data, size, at); }

#define SYNC(name)                                  \
    int name(int fd) {                              \
        static int (*real)(int);                    \
        if (!real) real = dlsym(RTLD_NEXT, #name);  \
        int now = due(fd);                          \
        if (now && die_how < 2) die();              \
        int result = real(fd);                      \
        if (now) die();                             \
        return result;                              \
    }
SYNC(fsync)
SYNC(fdatasync)

int ftruncate64(int fd, off64_t size) {
    static int (*real)(int, off64_t);
    if (!real) real = dlsym(RTLD_NEXT, "ftruncate64");
    int now = due(fd);
    if (now && die_how < 2) die();
    int result = real(fd, size);
    if (now) die();
    return result;
}

int ftruncate(int fd, off_t size) { return ftruncate64(fd, size); }
