/*
 * A bad cable: wire ONE OTHER LOSS DELAY_MS SEED. Carries every frame between two interfaces, loses a share of
 * them (0 to 1) and delays the rest (packet(7)); where the kernel has no netem, and the same everywhere.
 * The head of virtio goes with each frame: a frame between virtual interfaces has no checksum yet.
 */
#define _GNU_SOURCE
#include <arpa/inet.h>
#include <linux/if_ether.h>
#include <linux/if_packet.h>
#include <net/if.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/socket.h>
#include <time.h>

#define WAITING 4096
#define FRAME 2048

struct frame {
  double due_ms;
  int to;
  ssize_t size;
  char bytes[FRAME];
};
static struct frame waiting[WAITING];
static unsigned first, count;

static double now_ms(void) {
  struct timespec at;
  clock_gettime(CLOCK_MONOTONIC, &at);
  return at.tv_sec * 1e3 + at.tv_nsec / 1e6;
}

static int end_of(const char *name) {
  int end = socket(AF_PACKET, SOCK_RAW, htons(ETH_P_ALL)), on = 1;
  struct sockaddr_ll at = {.sll_family = AF_PACKET, .sll_protocol = htons(ETH_P_ALL)};
  struct packet_mreq all = {.mr_type = PACKET_MR_PROMISC};
  at.sll_ifindex = all.mr_ifindex = if_nametoindex(name);
  if (end < 0 || setsockopt(end, SOL_PACKET, PACKET_VNET_HDR, &on, sizeof on) ||
      bind(end, (struct sockaddr *)&at, sizeof at) ||
      setsockopt(end, SOL_PACKET, PACKET_ADD_MEMBERSHIP, &all, sizeof all)) {
    perror(name);
    exit(1);
  }
  return end;
}

int main(int argc, char **argv) {
  if (argc != 6) return 2;
  struct pollfd ends[2] = {{end_of(argv[1]), POLLIN, 0}, {end_of(argv[2]), POLLIN, 0}};
  double loss = atof(argv[3]), delay_ms = atof(argv[4]);
  srand48(atol(argv[5]));
  puts("carries");
  fflush(stdout);
  for (;;) {
    while (count > 0 && waiting[first].due_ms <= now_ms()) {
      struct frame *next = &waiting[first];
      send(ends[next->to].fd, next->bytes, next->size, 0);
      first = (first + 1) % WAITING;
      count--;
    }
    poll(ends, 2, count > 0 ? 1 : 100);
    for (int from = 0; from < 2; from++) {
      if (!(ends[from].revents & POLLIN)) continue;
      struct frame *last = &waiting[(first + count) % WAITING];
      struct sockaddr_ll at;
      socklen_t at_size = sizeof at;
      last->size = recvfrom(ends[from].fd, last->bytes, FRAME, 0, (struct sockaddr *)&at, &at_size);
      /* What this program has sent itself comes by here too. */
      if (last->size <= 0 || at.sll_pkttype == PACKET_OUTGOING) continue;
      if (drand48() < loss || count == WAITING) continue;
      last->due_ms = now_ms() + delay_ms;
      last->to = 1 - from;
      count++;
    }
  }
}
