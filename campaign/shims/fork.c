/* No process can be started (fork(2): EAGAIN at a limit of processes, ENOMEM). Threads of this process can. */
#define _GNU_SOURCE
#include "orders.h"
#include <dlfcn.h>
#include <errno.h>
#include <spawn.h>
#include <unistd.h>

static int is_refused(void) {
  if (campaign_orders->fork_errno == 0) return 0;
  __sync_fetch_and_add(&campaign_orders->refused, 1);
  errno = campaign_orders->fork_errno;
  return 1;
}

pid_t fork(void) {
  static pid_t (*real)(void);
  if (!real) real = dlsym(RTLD_NEXT, "fork");
  return is_refused() ? -1 : real();
}

/* Its caller's frame must not be left twice: a fork does all that is asked of it. */
pid_t vfork(void) { return fork(); }

int posix_spawn(pid_t *pid, const char *path, const posix_spawn_file_actions_t *actions,
                const posix_spawnattr_t *attributes, char *const arguments[], char *const env[]) {
  static int (*real)(pid_t *, const char *, const posix_spawn_file_actions_t *,
                     const posix_spawnattr_t *, char *const[], char *const[]);
  if (!real) real = dlsym(RTLD_NEXT, "posix_spawn");
  return is_refused() ? errno : real(pid, path, actions, attributes, arguments, env);
}
