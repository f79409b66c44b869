/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/bench/sink.h"

#include <arpa/inet.h>
#include <signal.h>
#include <stdlib.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include "adapters/serve/serve_mhd.h"

static void accept_message(ServeRequest *request, void *context)
{
    (void)context;
    serve_answer_json(request, 202, g_strdup("{\"id\":\"m-1\"}"));
}

static void run_sink(int port_pipe)
{
    uv_loop_t loop;
    char *why = NULL;
    const ServeLimits limits = {.body_max = 65536, .connections_max = 256, .idle_timeout_s = 60};
    uv_loop_init(&loop);
    Serve *serve = serve_tcp_new(&loop, "127.0.0.1:0", &limits, accept_message, NULL, &why);
    g_assert(serve != NULL);
    int port = serve_port(serve);
    g_assert(write(port_pipe, &port, sizeof port) == sizeof port);
    uv_run(&loop, UV_RUN_DEFAULT);
}

pid_t sink_start(int *port)
{
    int ends[2];
    g_assert(pipe(ends) == 0);
    pid_t sink = fork();
    if (sink == 0) {
        prctl(PR_SET_PDEATHSIG, SIGTERM); /* a bench that fails leaves nothing behind */
        run_sink(ends[1]);
        exit(0);
    }
    g_assert(sink > 0 && read(ends[0], port, sizeof *port) == sizeof *port);
    close(ends[0]);
    close(ends[1]);
    return sink;
}

void sink_stop(pid_t sink)
{
    kill(sink, SIGTERM);
    waitpid(sink, NULL, 0);
}

int sink_free_port(void)
{
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t length = sizeof address;
    int fd = socket(AF_INET, SOCK_STREAM, 0);

    g_assert(fd >= 0 && bind(fd, (struct sockaddr *)&address, length) == 0);
    g_assert(getsockname(fd, (struct sockaddr *)&address, &length) == 0);
    close(fd);
    return ntohs(address.sin_port);
}
