/* Loaded by LD_PRELOAD: appends to a log every change that a program makes below one folder.
 *
 *   POWER_CUT_FOLDER   the folder, as realpath gives it
 *   POWER_CUT_LOG      the log; power_log.py reads it
 *   POWER_CUT_DAYS     days by which the clock is ahead, if set
 *
 * Each record is a header and up to two paths and the data, written by one call under one lock, so
 * that the order of the log is the order of the changes. What a program writes to a terminal on
 * descriptors 1 and 2 goes into the same log, to show what had been seen before a change.
 * Changes through mmap are not seen: SQLite's -shm is rebuilt after a power cut and not replayed.
 * A way to write that is not replayed ends the program, so that no change is ever missed.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/uio.h>
#include <time.h>
#include <unistd.h>

struct header {
    uint32_t operation, first_length, second_length, data_length;
    uint64_t inode, offset;
};

#define DESCRIPTORS 65536
static unsigned char watched[DESCRIPTORS], appends[DESCRIPTORS];
static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
static char folder[PATH_MAX];
static size_t folder_length;
static int log_descriptor = -1;
static int64_t days_ahead;

static void stop(const char *why) {
    dprintf(2, "power_recorder: %s\n", why);
    abort();
}

__attribute__((constructor)) static void begin(void) {
    const char *where = getenv("POWER_CUT_FOLDER"), *log = getenv("POWER_CUT_LOG");
    const char *days = getenv("POWER_CUT_DAYS");
    if (days) days_ahead = atoi(days);
    if (!where || !log) return;
    folder_length = strlen(where);
    if (folder_length >= sizeof folder) stop("the folder's name is too long");
    memcpy(folder, where, folder_length + 1);
    int opened = syscall(SYS_openat, AT_FDCWD, log, O_WRONLY | O_APPEND | O_CREAT | O_CLOEXEC, 0600);
    if (opened < 0) stop("the log cannot be opened");
    /* Far from the low numbers that a program may expect to get. */
    log_descriptor = fcntl(opened, F_DUPFD_CLOEXEC, 1000);
    syscall(SYS_close, opened);
}

static void record(char operation, uint64_t inode, uint64_t offset, const char *first,
                   const char *second, const void *data, size_t length) {
    struct header head = {(uint32_t)operation, first ? strlen(first) : 0,
                          second ? strlen(second) : 0, length, inode, offset};
    struct iovec parts[4] = {{&head, sizeof head}, {(void *)first, head.first_length},
                             {(void *)second, head.second_length}, {(void *)data, length}};
    size_t total = sizeof head + head.first_length + head.second_length + length;
    if (syscall(SYS_writev, log_descriptor, parts, 4) != (ssize_t)total) stop("the log is cut off");
}

/* The path of a name below a folder descriptor, its folder resolved; 0 where it is not watched. */
static int below(int at, const char *name, char *path) {
    char whole[PATH_MAX * 2], resolved[PATH_MAX];
    if (log_descriptor < 0 || !name) return 0;
    if (name[0] == '/') {
        snprintf(whole, sizeof whole, "%s", name);
    } else {
        char base[PATH_MAX], link[64];
        if (at == AT_FDCWD) {
            if (!getcwd(base, sizeof base)) return 0;
        } else {
            snprintf(link, sizeof link, "/proc/self/fd/%d", at);
            ssize_t length = readlink(link, base, sizeof base - 1);
            if (length < 0) return 0;
            base[length] = 0;
        }
        snprintf(whole, sizeof whole, "%s/%s", base, name);
    }
    size_t length = strlen(whole);
    while (length > 1 && whole[length - 1] == '/') whole[--length] = 0;
    char *slash = strrchr(whole, '/');
    if (!slash) return 0;
    char *last = slash + 1;
    *slash = 0;
    int kept = errno;
    if (!realpath(*whole ? whole : "/", resolved)) {
        errno = kept;
        return 0;
    }
    if (snprintf(path, PATH_MAX, "%s/%s", resolved, last) >= PATH_MAX) stop("a path is too long");
    return strncmp(path, folder, folder_length) == 0 &&
           (path[folder_length] == '/' || path[folder_length] == 0);
}

static uint64_t inode_of(int descriptor) {
    struct stat found;
    if (fstat(descriptor, &found)) stop("fstat");
    return found.st_ino;
}

static int is_watched(int descriptor) {
    return descriptor >= 0 && descriptor < DESCRIPTORS && watched[descriptor];
}

#define REAL(name) ((__typeof__(&name))dlsym(RTLD_NEXT, #name))
#define LOCKED pthread_mutex_lock(&lock)
#define RETURN(value) do { int kept = errno; pthread_mutex_unlock(&lock); errno = kept; return value; } while (0)

/* --- Opening and closing --- */

static int opening(int at, const char *name, int flags, mode_t mode) {
    char path[PATH_MAX];
    int is_below = below(at, name, path);
    struct stat before;
    LOCKED;
    int kept = errno, was_there = is_below && fstatat(at, name, &before, 0) == 0;
    if (is_below && !was_there && (flags & O_CREAT) && fstatat(at, name, &before, AT_SYMLINK_NOFOLLOW) == 0)
        stop("a file is made through a link");
    errno = kept;
    int descriptor = syscall(SYS_openat, at, name, flags, mode);
    if (descriptor >= DESCRIPTORS) stop("too many descriptors");
    if (descriptor >= 0) {
        watched[descriptor] = is_below;
        appends[descriptor] = (flags & O_APPEND) != 0;
    }
    if (descriptor >= 0 && is_below) {
        if ((flags & O_TMPFILE) == O_TMPFILE) stop("O_TMPFILE is not replayed");
        if (!was_there) record('c', inode_of(descriptor), 0, path, 0, 0, 0);
        else if ((flags & O_TRUNC) && before.st_size) record('t', before.st_ino, 0, 0, 0, 0, 0);
    }
    RETURN(descriptor);
}

#define MODE mode_t mode = 0; \
    if (flags & (O_CREAT | O_TMPFILE)) { va_list rest; va_start(rest, flags); mode = va_arg(rest, mode_t); va_end(rest); }

int open(const char *name, int flags, ...) { MODE return opening(AT_FDCWD, name, flags, mode); }
int open64(const char *name, int flags, ...) { MODE return opening(AT_FDCWD, name, flags, mode); }
int openat(int at, const char *name, int flags, ...) { MODE return opening(at, name, flags, mode); }
int openat64(int at, const char *name, int flags, ...) { MODE return opening(at, name, flags, mode); }
int creat(const char *name, mode_t mode) { return opening(AT_FDCWD, name, O_CREAT | O_WRONLY | O_TRUNC, mode); }
int creat64(const char *name, mode_t mode) { return creat(name, mode); }

int close(int descriptor) {
    if (descriptor == log_descriptor && descriptor >= 0) return 0; /* closefrom and the like */
    if (is_watched(descriptor)) watched[descriptor] = 0;
    return syscall(SYS_close, descriptor);
}

/* --- Writing --- */

static ssize_t wrote(int descriptor, ssize_t count, uint64_t offset, const void *data) {
    if (count > 0) record('w', inode_of(descriptor), offset, 0, 0, data, count);
    return count;
}

static uint64_t position(int descriptor) {
    off64_t at = lseek64(descriptor, 0, appends[descriptor] ? SEEK_END : SEEK_CUR);
    if (at < 0) stop("lseek");
    return at;
}

ssize_t write(int descriptor, const void *data, size_t length) {
    if (log_descriptor < 0) return syscall(SYS_write, descriptor, data, length);
    LOCKED;
    ssize_t count;
    if (is_watched(descriptor)) {
        uint64_t offset = position(descriptor);
        count = wrote(descriptor, syscall(SYS_write, descriptor, data, length), offset, data);
    } else {
        count = syscall(SYS_write, descriptor, data, length);
        if (count > 0 && (descriptor == 1 || descriptor == 2) && isatty(descriptor))
            record('>', 0, 0, 0, 0, data, count);
    }
    RETURN(count);
}

static ssize_t writing_at(int descriptor, const void *data, size_t length, off64_t offset) {
    LOCKED;
    ssize_t count = syscall(SYS_pwrite64, descriptor, data, length, offset);
    if (is_watched(descriptor)) wrote(descriptor, count, offset, data);
    RETURN(count);
}

ssize_t pwrite(int d, const void *data, size_t n, off_t at) { return writing_at(d, data, n, at); }
ssize_t pwrite64(int d, const void *data, size_t n, off64_t at) { return writing_at(d, data, n, at); }

static int truncating(int descriptor, off64_t size) {
    LOCKED;
    int failed = syscall(SYS_ftruncate, descriptor, size);
    if (!failed && is_watched(descriptor)) record('t', inode_of(descriptor), size, 0, 0, 0, 0);
    RETURN(failed);
}

int ftruncate(int descriptor, off_t size) { return truncating(descriptor, size); }
int ftruncate64(int descriptor, off64_t size) { return truncating(descriptor, size); }

/* --- Syncing: recorded once done, so that a cut before it finds what was not yet synced --- */

static int syncing(int descriptor, long call) {
    int failed = syscall(call, descriptor);
    LOCKED;
    if (!failed && is_watched(descriptor)) record('s', inode_of(descriptor), 0, 0, 0, 0, 0);
    RETURN(failed);
}

int fsync(int descriptor) { return syncing(descriptor, SYS_fsync); }
int fdatasync(int descriptor) { return syncing(descriptor, SYS_fdatasync); }

/* --- Names --- */

static int naming(char operation, int at, const char *name, int to, const char *target, long flags) {
    char from[PATH_MAX], onto[PATH_MAX];
    int is_below = below(at, name, from), is_onto = below(to, target, onto);
    if (is_below != is_onto) stop("a name crosses the folder's edge");
    LOCKED;
    int failed = operation == 'r' ? syscall(SYS_renameat2, at, name, to, target, flags)
                                  : syscall(SYS_linkat, at, name, to, target, flags);
    if (!failed && is_below) {
        if (operation == 'r' && flags & ~1L) stop("renameat2 with such flags is not replayed");
        record(operation, 0, 0, from, onto, 0, 0);
    }
    RETURN(failed);
}

int rename(const char *a, const char *b) { return naming('r', AT_FDCWD, a, AT_FDCWD, b, 0); }
int renameat(int x, const char *a, int y, const char *b) { return naming('r', x, a, y, b, 0); }
int renameat2(int x, const char *a, int y, const char *b, unsigned flags) { return naming('r', x, a, y, b, flags); }
int link(const char *a, const char *b) { return naming('l', AT_FDCWD, a, AT_FDCWD, b, 0); }
int linkat(int x, const char *a, int y, const char *b, int flags) { return naming('l', x, a, y, b, flags); }

static int removing(int at, const char *name, int flags) {
    char path[PATH_MAX];
    int is_below = below(at, name, path);
    LOCKED;
    int failed = syscall(SYS_unlinkat, at, name, flags);
    if (!failed && is_below) record('u', 0, 0, path, 0, 0, 0);
    RETURN(failed);
}

int unlink(const char *name) { return removing(AT_FDCWD, name, 0); }
int unlinkat(int at, const char *name, int flags) { return removing(at, name, flags); }
int rmdir(const char *name) { return removing(AT_FDCWD, name, AT_REMOVEDIR); }
int remove(const char *name) {
    int failed = unlink(name);
    return failed && errno == EISDIR ? rmdir(name) : failed;
}

int mkdirat(int at, const char *name, mode_t mode) {
    char path[PATH_MAX];
    int is_below = below(at, name, path);
    LOCKED;
    int failed = syscall(SYS_mkdirat, at, name, mode);
    struct stat made;
    if (!failed && is_below) {
        if (fstatat(at, name, &made, 0)) stop("fstatat");
        record('m', made.st_ino, 0, path, 0, 0, 0);
    }
    RETURN(failed);
}

int mkdir(const char *name, mode_t mode) { return mkdirat(AT_FDCWD, name, mode); }

/* --- Ways to write that are not replayed --- */

#define REFUSE(condition, what) do { if (log_descriptor >= 0 && (condition)) stop(what " is not replayed"); } while (0)

ssize_t writev(int d, const struct iovec *parts, int count) {
    REFUSE(is_watched(d), "writev");
    return syscall(SYS_writev, d, parts, count);
}
ssize_t sendfile(int out, int in, off_t *at, size_t count) {
    REFUSE(is_watched(out), "sendfile");
    return syscall(SYS_sendfile, out, in, at, count);
}
ssize_t sendfile64(int out, int in, off64_t *at, size_t count) { return sendfile(out, in, at, count); }
ssize_t copy_file_range(int in, off64_t *from, int out, off64_t *at, size_t count, unsigned flags) {
    REFUSE(is_watched(out), "copy_file_range");
    return syscall(SYS_copy_file_range, in, from, out, at, count, flags);
}
int fallocate(int d, int mode, off_t at, off_t count) {
    REFUSE(is_watched(d), "fallocate");
    return syscall(SYS_fallocate, d, mode, at, count);
}
int fallocate64(int d, int mode, off64_t at, off64_t count) { return fallocate(d, mode, at, count); }
int posix_fallocate(int d, off_t at, off_t count) {
    REFUSE(is_watched(d), "posix_fallocate");
    return syscall(SYS_fallocate, d, 0, at, count) ? errno : 0;
}
int posix_fallocate64(int d, off64_t at, off64_t count) { return posix_fallocate(d, at, count); }
int truncate(const char *name, off_t size) {
    char path[PATH_MAX];
    REFUSE(below(AT_FDCWD, name, path), "truncate");
    return syscall(SYS_truncate, name, size);
}
int truncate64(const char *name, off64_t size) { return truncate(name, size); }
int symlinkat(const char *target, int at, const char *name) {
    char path[PATH_MAX];
    REFUSE(below(at, name, path), "symlink");
    return syscall(SYS_symlinkat, target, at, name);
}
int symlink(const char *target, const char *name) { return symlinkat(target, AT_FDCWD, name); }
FILE *fopen(const char *name, const char *mode) {
    char path[PATH_MAX];
    REFUSE(strpbrk(mode, "wa+") && below(AT_FDCWD, name, path), "fopen");
    return REAL(fopen)(name, mode);
}
FILE *fopen64(const char *name, const char *mode) {
    char path[PATH_MAX];
    REFUSE(strpbrk(mode, "wa+") && below(AT_FDCWD, name, path), "fopen");
    return REAL(fopen64)(name, mode);
}
int dup(int d) {
    REFUSE(is_watched(d), "dup");
    return syscall(SYS_dup, d);
}

/* --- The clock --- */

int clock_gettime(clockid_t which, struct timespec *now) {
    int failed = syscall(SYS_clock_gettime, which, now);
    if (!failed && which == CLOCK_REALTIME) now->tv_sec += days_ahead * 86400;
    return failed;
}
