/* Shim: stands between a program and its disk and clock, to write down what it does to its files and to make faults.
 *
 * Loaded with LD_PRELOAD. Files in FAULTS_FOLDER are watched, but for locks, logs and shared memory, which no power cut
 * leaves anything of. FAULTS_TRACE, when set, gets a record of every change in the order in which it was made; other
 * processes may append marks of their own. FAULTS_CONTROL is mapped, so that faults can be ordered while the program runs.
 */
#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <time.h>
#include <unistd.h>

#define MOST_FILES 4096
#define MOST_NAME 120
#define MOST_DATA (1 << 20)

/* The order of these is known to disk.rs. */
struct control {
    int64_t clock_shift_ms; /* added to the time of day */
    int64_t space;          /* bytes by which files may still grow; negative: as many as they like */
    int64_t sync_fault;     /* what happens to the sync that is due: one of the four below */
    int64_t sync_after;     /* syncs of the target that go well before */
    int64_t sync_target;    /* 0: the write-ahead log, 1: the file itself */
    int64_t syncs_failed;   /* told back */
    int64_t writes_refused; /* told back */
    int64_t space_lies;     /* what finds no space is said to be written */
};
enum { SOUND = 0, FAILS_ONCE = 1, FAILS_UNTOLD = 2, NEVER_DONE = 3 };
enum { NOT_WATCHED = 0, A_FILE = 1, THE_FOLDER = 2 };

static pthread_mutex_t turn = PTHREAD_MUTEX_INITIALIZER;
static const char *folder;
static size_t folder_length;
static int trace = -1;
static struct control *control;
static struct { char kind; char name[MOST_NAME]; } files[MOST_FILES];
static char record[16 + MOST_NAME + MOST_DATA];

static void give_up(const char *why) {
    dprintf(2, "shim: %s (%s)\n", why, strerror(errno));
    abort();
}

__attribute__((constructor)) static void begin(void) {
    folder = getenv("FAULTS_FOLDER");
    if (!folder) return;
    folder_length = strlen(folder);
    const char *path = getenv("FAULTS_TRACE");
    if (path) {
        trace = (int)syscall(SYS_openat, AT_FDCWD, path, O_WRONLY | O_APPEND | O_CREAT | O_CLOEXEC, 0644);
        if (trace < 0) give_up("no trace");
    }
    path = getenv("FAULTS_CONTROL");
    if (!path) give_up("no control");
    int fd = (int)syscall(SYS_openat, AT_FDCWD, path, O_RDWR | O_CLOEXEC, 0);
    if (fd < 0) give_up("no control");
    control = mmap(NULL, sizeof *control, PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
    if (control == MAP_FAILED) give_up("no control");
    syscall(SYS_close, fd);
}

static int ends_with(const char *text, const char *end) {
    size_t a = strlen(text), b = strlen(end);
    return a >= b && strcmp(text + a - b, end) == 0;
}

/* The name within the folder; "" for the folder itself, NULL for what is not watched. */
static const char *watched(const char *path) {
    if (!folder || strncmp(path, folder, folder_length) != 0) return NULL;
    if (path[folder_length] == 0) return path + folder_length;
    if (path[folder_length] != '/') return NULL;
    const char *name = path + folder_length + 1;
    if (ends_with(name, "-shm") || ends_with(name, ".lock") || ends_with(name, ".log")) return NULL;
    if (strlen(name) >= MOST_NAME) give_up("a long name");
    return name;
}

/* One record in one write, so that those of other processes come before or after it as a whole. */
static void note(char kind, const char *name, uint64_t offset, const void *data, size_t length) {
    if (trace < 0) return;
    size_t named = strlen(name);
    if (length > MOST_DATA) give_up("a long write");
    uint32_t size = (uint32_t)length;
    record[0] = kind;
    record[1] = (char)named;
    record[2] = record[3] = 0;
    memcpy(record + 4, &size, 4);
    memcpy(record + 8, &offset, 8);
    memcpy(record + 16, name, named);
    if (length) memcpy(record + 16 + named, data, length);
    ssize_t whole = (ssize_t)(16 + named + length);
    if (syscall(SYS_write, trace, record, (size_t)whole) != whole) give_up("the trace cannot be written");
}

static int open_file(const char *path, int flags, mode_t mode) {
    const char *name = watched(path);
    if (!name) return (int)syscall(SYS_openat, AT_FDCWD, path, flags, mode);
    pthread_mutex_lock(&turn);
    int is_new = (flags & O_CREAT) && syscall(SYS_faccessat, AT_FDCWD, path, F_OK) != 0;
    int fd = (int)syscall(SYS_openat, AT_FDCWD, path, flags, mode);
    if (fd >= MOST_FILES) give_up("too many files");
    if (fd >= 0) {
        files[fd].kind = *name ? A_FILE : THE_FOLDER;
        strcpy(files[fd].name, name);
        if (is_new) note('C', name, 0, NULL, 0);
        else if (flags & O_TRUNC) note('T', name, 0, NULL, 0);
    }
    pthread_mutex_unlock(&turn);
    return fd;
}

static char kind_of(int fd) { return fd >= 0 && fd < MOST_FILES ? files[fd].kind : NOT_WATCHED; }

static ssize_t write_file(int fd, const void *data, size_t length, off_t offset) {
    pthread_mutex_lock(&turn);
    struct stat now;
    if (fstat(fd, &now) != 0) give_up("fstat");
    int64_t growth = (int64_t)offset + (int64_t)length - (int64_t)now.st_size;
    if (control->space >= 0 && growth > 0) {
        if (growth > control->space && control->space_lies) {
            control->writes_refused++;
            pthread_mutex_unlock(&turn);
            return (ssize_t)length;
        }
        if (growth > control->space) {
            int64_t fits = (int64_t)length - (growth - control->space);
            control->space = 0;
            if (fits <= 0) {
                control->writes_refused++;
                pthread_mutex_unlock(&turn);
                errno = ENOSPC;
                return -1;
            }
            length = (size_t)fits;
        } else {
            control->space -= growth;
        }
    }
    note('W', files[fd].name, (uint64_t)offset, data, length);
    ssize_t done = syscall(SYS_pwrite64, fd, data, length, offset);
    if (done != (ssize_t)length) give_up("a short write that nobody ordered");
    pthread_mutex_unlock(&turn);
    return done;
}

static int truncate_file(int fd, off_t length) {
    if (kind_of(fd) != A_FILE) return (int)syscall(SYS_ftruncate, fd, length);
    pthread_mutex_lock(&turn);
    note('T', files[fd].name, (uint64_t)length, NULL, 0);
    int done = (int)syscall(SYS_ftruncate, fd, length);
    pthread_mutex_unlock(&turn);
    return done;
}

/* What becomes of this sync: SOUND, or the fault that is due. */
static int64_t due(const char *name) {
    int is_target = control->sync_target == 0 ? ends_with(name, "-wal") : !strchr(name, '-');
    if (control->sync_fault == SOUND || !is_target) return SOUND;
    if (control->sync_after > 0) {
        control->sync_after--;
        return SOUND;
    }
    int64_t fault = control->sync_fault;
    if (fault != NEVER_DONE) control->sync_fault = SOUND;
    control->syncs_failed++;
    return fault;
}

static int sync_file(int fd, long number) {
    char kind = kind_of(fd);
    if (kind == NOT_WATCHED) return (int)syscall(number, fd);
    pthread_mutex_lock(&turn);
    int64_t fault = kind == A_FILE ? due(files[fd].name) : SOUND;
    int done = 0;
    if (fault == SOUND) {
        done = (int)syscall(number, fd);
        if (done == 0) note(kind == A_FILE ? 'S' : 'D', files[fd].name, 0, NULL, 0);
    } else if (fault == FAILS_ONCE || fault == FAILS_UNTOLD) {
        /* As Linux does it: what was to be written counts as written, and is not. */
        note('F', files[fd].name, 0, NULL, 0);
        if (fault == FAILS_ONCE) {
            errno = EIO;
            done = -1;
        }
    }
    pthread_mutex_unlock(&turn);
    return done;
}

int open(const char *path, int flags, ...) {
    va_list rest;
    va_start(rest, flags);
    mode_t mode = (flags & (O_CREAT | O_TMPFILE)) ? va_arg(rest, mode_t) : 0;
    va_end(rest);
    return open_file(path, flags, mode);
}

int open64(const char *path, int flags, ...) {
    va_list rest;
    va_start(rest, flags);
    mode_t mode = (flags & (O_CREAT | O_TMPFILE)) ? va_arg(rest, mode_t) : 0;
    va_end(rest);
    return open_file(path, flags, mode);
}

int __open_2(const char *path, int flags) { return open_file(path, flags, 0); }
int __open64_2(const char *path, int flags) { return open_file(path, flags, 0); }

int close(int fd) {
    if (kind_of(fd) != NOT_WATCHED) {
        pthread_mutex_lock(&turn);
        files[fd].kind = NOT_WATCHED;
        pthread_mutex_unlock(&turn);
    }
    return (int)syscall(SYS_close, fd);
}

ssize_t pwrite64(int fd, const void *data, size_t length, off64_t offset) {
    if (kind_of(fd) != A_FILE) return syscall(SYS_pwrite64, fd, data, length, offset);
    return write_file(fd, data, length, offset);
}

ssize_t pwrite(int fd, const void *data, size_t length, off_t offset) { return pwrite64(fd, data, length, offset); }

ssize_t write(int fd, const void *data, size_t length) {
    if (kind_of(fd) != A_FILE) return syscall(SYS_write, fd, data, length);
    off_t place = lseek(fd, 0, SEEK_CUR);
    if (place < 0) give_up("a write to a place that is not known");
    ssize_t done = write_file(fd, data, length, place);
    if (done > 0) lseek(fd, done, SEEK_CUR);
    return done;
}

int ftruncate(int fd, off_t length) { return truncate_file(fd, length); }
int ftruncate64(int fd, off64_t length) { return truncate_file(fd, length); }
int fsync(int fd) { return sync_file(fd, SYS_fsync); }
int fdatasync(int fd) { return sync_file(fd, SYS_fdatasync); }

int unlink(const char *path) {
    const char *name = watched(path);
    if (!name) return (int)syscall(SYS_unlinkat, AT_FDCWD, path, 0);
    pthread_mutex_lock(&turn);
    int done = (int)syscall(SYS_unlinkat, AT_FDCWD, path, 0);
    if (done == 0) note('U', name, 0, NULL, 0);
    pthread_mutex_unlock(&turn);
    return done;
}

int clock_gettime(clockid_t which, struct timespec *now) {
    int done = (int)syscall(SYS_clock_gettime, which, now);
    if (done == 0 && control && (which == CLOCK_REALTIME || which == CLOCK_REALTIME_COARSE)) {
        int64_t ms = (int64_t)now->tv_sec * 1000 + now->tv_nsec / 1000000 + control->clock_shift_ms;
        now->tv_nsec = now->tv_nsec % 1000000 + (ms % 1000) * 1000000;
        now->tv_sec = ms / 1000;
    }
    return done;
}
