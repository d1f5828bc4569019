/* Between a program and the disk: counts what it writes, and refuses the call it is told to.
 *
 * Loaded before the C library (LD_PRELOAD). Counted is whatever changes a file system, also by
 * native code: files made or written, flushed, moved, deleted, folders made. Terminals, pipes,
 * devices and the two standard outputs are none of it.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/uio.h>
#include <unistd.h>

static long seen, refused_from = -1, refused_to = -1;
static int code;
static char last[64];

void disk_refuses(long from, long to, int with) { seen = 0; refused_from = from; refused_to = to; code = with; }
long disk_seen(void) { return seen; }
const char *disk_last(void) { return last; }

/* A deletion is refused only where it is the one call: a full disk takes deletions. */
static int refuse(const char *what, int is_deletion) {
    long now = seen++;
    if (now < refused_from || now >= refused_to || refused_from < 0) return 0;
    if (is_deletion && refused_to - refused_from > 1 && code != EROFS) return 0;
    if (now == refused_from) { strncpy(last, what, sizeof last - 1); }
    errno = code;
    return 1;
}

static int is_file(int fd) {
    struct stat about;
    return fd > 2 && fstat(fd, &about) == 0 && S_ISREG(about.st_mode);
}

#define REAL(name) __typeof__(name) *real = (__typeof__(name) *)dlsym(RTLD_NEXT, #name)
#define ON_FILE(type, name, parameters, given)                                                   \
    type name parameters { REAL(name); if (is_file(fd) && refuse(#name, 0)) return -1; return real given; }
#define ON_PATH(name, parameters, given, is_deletion)                                            \
    int name parameters { REAL(name); if (refuse(#name, is_deletion)) return -1; return real given; }
#define WRITES(flags) (((flags) & O_ACCMODE) != O_RDONLY && ((flags) & (O_CREAT | O_TRUNC)))
#define OPENS(name, parameters, given)                                                           \
    int name parameters {                                                                        \
        REAL(name); va_list more; va_start(more, flags);                                         \
        mode_t mode = (flags & O_CREAT) ? va_arg(more, mode_t) : 0; va_end(more);                \
        if (WRITES(flags) && strncmp(path, "/dev/", 5) && refuse(#name, 0)) return -1;            \
        return real given; }

ON_FILE(ssize_t, write, (int fd, const void *from, size_t n), (fd, from, n))
ON_FILE(ssize_t, pwrite, (int fd, const void *from, size_t n, off_t at), (fd, from, n, at))
ON_FILE(ssize_t, pwrite64, (int fd, const void *from, size_t n, off64_t at), (fd, from, n, at))
ON_FILE(ssize_t, writev, (int fd, const struct iovec *from, int n), (fd, from, n))
ON_FILE(int, ftruncate, (int fd, off_t n), (fd, n))
ON_FILE(int, ftruncate64, (int fd, off64_t n), (fd, n))
ON_FILE(int, fdatasync, (int fd), (fd))
int fsync(int fd) { REAL(fsync); return refuse("fsync", 0) ? -1 : real(fd); }
ON_PATH(rename, (const char *old, const char *new), (old, new), 0)
ON_PATH(renameat, (int a, const char *old, int b, const char *new), (a, old, b, new), 0)
ON_PATH(mkdir, (const char *path, mode_t mode), (path, mode), 0)
ON_PATH(mkdirat, (int at, const char *path, mode_t mode), (at, path, mode), 0)
ON_PATH(unlink, (const char *path), (path), 1)
ON_PATH(unlinkat, (int at, const char *path, int flags), (at, path, flags), 1)
ON_PATH(rmdir, (const char *path), (path), 1)
OPENS(open, (const char *path, int flags, ...), (path, flags, mode))
OPENS(open64, (const char *path, int flags, ...), (path, flags, mode))
OPENS(openat, (int at, const char *path, int flags, ...), (at, path, flags, mode))
OPENS(openat64, (int at, const char *path, int flags, ...), (at, path, flags, mode))
