/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/rooms.h"

#include <stdio.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

/* Whose network a room is: ends when its standard input does, whatever became of the test. */
typedef struct {
    pid_t pid;
    int in, out;
} Holder;

struct Rooms {
    Holder holder[2];
};

static bool hold(Holder *holder, char **why)
{
    const char *argv[] = {"unshare", "-n", "sh", "-c", "echo here; exec cat", NULL};
    g_autoptr(GError) error = NULL;
    char said[5] = "";

    holder->in = holder->out = -1;
    if (!g_spawn_async_with_pipes(NULL, (char **)argv, NULL,
                                  G_SPAWN_DO_NOT_REAP_CHILD | G_SPAWN_SEARCH_PATH, NULL, NULL,
                                  &holder->pid, &holder->in, &holder->out, NULL, &error)) {
        *why = g_strdup(error->message);
        return false;
    }
    if (read(holder->out, said, sizeof said - 1) == 4 && strcmp(said, "here") == 0) return true;
    *why = g_strdup("unshare -n is not allowed");
    return false;
}

static void let_go(Holder *holder)
{
    if (holder->pid == 0) return;
    close(holder->in);
    close(holder->out);
    waitpid(holder->pid, NULL, 0);
}

static int run(const Rooms *rooms, int room, const char *words)
{
    g_autofree char *command =
        g_strdup_printf("nsenter -n -t %d %s", (int)rooms->holder[room].pid, words);
    int status = -1;

    if (!g_spawn_command_line_sync(command, NULL, NULL, &status, NULL)) return -1;
    return status;
}

void rooms_do(const Rooms *rooms, int room, const char *words, ...)
{
    va_list arguments;

    va_start(arguments, words);
    g_autofree char *command = g_strdup_vprintf(words, arguments);
    va_end(arguments);
    if (run(rooms, room, command) != 0) g_error("room %d: %s: failed", room, command);
}

static bool lay_cable(const Rooms *rooms)
{
    g_autofree char *cable = g_strdup_printf("ip link add cable type veth peer name cable netns %d",
                                             (int)rooms->holder[1].pid);
    static const char *const ADDRESSES[] = {ROOM_ADDRESS_0, ROOM_ADDRESS_1};
    bool laid = run(rooms, 0, cable) == 0;

    for (int room = 0; room < 2 && laid; room++) {
        g_autofree char *address =
            g_strdup_printf("ip address add %s/24 dev cable", ADDRESSES[room]);
        laid = run(rooms, room, address) == 0 && run(rooms, room, "ip link set lo up") == 0 &&
               run(rooms, room, "ip link set cable up") == 0;
    }
    return laid;
}

Rooms *rooms_new(char **why)
{
    Rooms *rooms = g_new0(Rooms, 1);

    *why = NULL;
    if (hold(&rooms->holder[0], why) && hold(&rooms->holder[1], why)) {
        if (lay_cable(rooms)) return rooms;
        *why = g_strdup("ip lays no cable between two namespaces");
    }
    rooms_free(rooms);
    return NULL;
}

void rooms_free(Rooms *rooms)
{
    if (rooms == NULL) return;
    for (int room = 0; room < 2; room++)
        let_go(&rooms->holder[room]);
    g_free(rooms);
}

pid_t rooms_process(const Rooms *rooms, int room)
{
    return rooms->holder[room].pid;
}
