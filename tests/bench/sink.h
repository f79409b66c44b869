/* SPDX-License-Identifier: Apache-2.0 */
/* A gateway in a process of its own that accepts every message, so that its work is the same for whatever is measured. */
#ifndef OSIER_TESTS_BENCH_SINK_H
#define OSIER_TESTS_BENCH_SINK_H

#include <sys/types.h>

/* Starts it; *port is where it listens on 127.0.0.1. It answers 202 {"id":"m-1"} to every request. */
pid_t sink_start(int *port);
void sink_stop(pid_t sink);

/* A port of the loopback that nobody listened on a moment ago. */
int sink_free_port(void);

#endif
