/* Datagrams are refused, as by a firewall (EPERM), a driver (EIO), a full machine (ENOMEM, ENOBUFS) or a broken network. */
#define _GNU_SOURCE
#include "orders.h"
#include <arpa/inet.h>
#include <dlfcn.h>
#include <errno.h>
#include <netinet/in.h>
#include <sys/socket.h>

static int is_refused(int socket, const struct sockaddr *to) {
  int why = campaign_orders->send_errno, port = campaign_orders->send_port, type = 0, family = 0;
  socklen_t size = sizeof type;
  if (why == 0) return 0;
  if (port != 0 && (to == 0 || to->sa_family != AF_INET ||
                    ntohs(((const struct sockaddr_in *)to)->sin_port) != port))
    return 0;
  getsockopt(socket, SOL_SOCKET, SO_TYPE, &type, &size);
  getsockopt(socket, SOL_SOCKET, SO_DOMAIN, &family, &size);
  if (type != SOCK_DGRAM || family != AF_INET) return 0;
  __sync_fetch_and_add(&campaign_orders->refused, 1);
  errno = why;
  return 1;
}

ssize_t sendmsg(int socket, const struct msghdr *message, int flags) {
  static ssize_t (*real)(int, const struct msghdr *, int);
  if (!real) real = dlsym(RTLD_NEXT, "sendmsg");
  return is_refused(socket, message->msg_name) ? -1 : real(socket, message, flags);
}

int sendmmsg(int socket, struct mmsghdr *messages, unsigned count, int flags) {
  static int (*real)(int, struct mmsghdr *, unsigned, int);
  if (!real) real = dlsym(RTLD_NEXT, "sendmmsg");
  return is_refused(socket, messages->msg_hdr.msg_name) ? -1 : real(socket, messages, count, flags);
}

ssize_t sendto(int socket, const void *bytes, size_t size, int flags, const struct sockaddr *to,
               socklen_t to_size) {
  static ssize_t (*real)(int, const void *, size_t, int, const struct sockaddr *, socklen_t);
  if (!real) real = dlsym(RTLD_NEXT, "sendto");
  return is_refused(socket, to) ? -1 : real(socket, bytes, size, flags, to, to_size);
}

ssize_t send(int socket, const void *bytes, size_t size, int flags) {
  static ssize_t (*real)(int, const void *, size_t, int);
  if (!real) real = dlsym(RTLD_NEXT, "send");
  return is_refused(socket, 0) ? -1 : real(socket, bytes, size, flags);
}
