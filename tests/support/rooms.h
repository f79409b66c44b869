/* SPDX-License-Identifier: Apache-2.0 */
/* Two rooms, each with a network of its own (a namespace of Linux), and one cable between them. Root of the machine can make them, a
 * container often cannot. They go with the test. */
#ifndef OSIER_TESTS_SUPPORT_ROOMS_H
#define OSIER_TESTS_SUPPORT_ROOMS_H

#include <glib.h>
#include <stdbool.h>
#include <sys/types.h>

#define ROOM_ADDRESS_0 "10.77.0.1"
#define ROOM_ADDRESS_1 "10.77.0.2"

typedef struct Rooms Rooms;

/* NULL where they cannot be made; *why (g_free) then says what is missing. */
Rooms *rooms_new(char **why);
void rooms_free(Rooms *rooms);

/* A process of the room (0 or 1), for Site.room. */
pid_t rooms_process(const Rooms *rooms, int room);

/* Runs a program in a room, its words as a shell would split them; success is asserted. */
void rooms_do(const Rooms *rooms, int room, const char *words, ...) G_GNUC_PRINTF(3, 4);

#endif
