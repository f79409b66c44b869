/* SPDX-License-Identifier: Apache-2.0 */
#include <glib.h>
#include <signal.h>
#include <string.h>
#include <unistd.h>

#include "adapters/program/program.h"

enum { PATIENCE_MS = 2000, LAST_WORDS_MS = 500, MURMURS_MS = 60000 };

/* What it writes to standard error. It is always read: a program must not stand still because it complains. */
typedef struct {
    uv_pipe_t pipe;
    char line[PROGRAM_MURMUR_MAX]; /* what has come of one */
    size_t length;
    uint64_t since_ms; /* the minute in which bytes are counted */
    size_t bytes;
} Murmurs;

struct Program {
    ProgramEars ears;
    uv_process_t process;
    uv_pipe_t in;
    uv_pipe_t out;
    uv_timer_t timer;    /* program_wait */
    uv_timer_t patience; /* after its input was closed */
    Murmurs murmurs;
    GString *heard;
    char buffer[16 * 1024];
    char *why;
    bool listens;
    bool ending; /* no more lines */
    bool exited;
    bool silent; /* its output is closed */
    int held;    /* handles that are not yet closed */
};

static void give_murmur(Program *program)
{
    Murmurs *murmurs = &program->murmurs;

    if (murmurs->length > 0 && program->ears.murmur != NULL)
        program->ears.murmur(murmurs->line, murmurs->length, program->ears.context);
    murmurs->length = 0;
}

static void add_murmurs(Program *program, const char *bytes, size_t length)
{
    Murmurs *murmurs = &program->murmurs;

    for (const char *end; length > 0; bytes = end) {
        const char *feed = memchr(bytes, '\n', length);
        end = feed != NULL ? feed + 1 : bytes + length;
        length -= (size_t)(end - bytes);
        size_t piece = MIN((size_t)((feed != NULL ? feed : end) - bytes),
                           sizeof murmurs->line - murmurs->length);
        memcpy(murmurs->line + murmurs->length, bytes, piece);
        murmurs->length += piece;
        if (feed != NULL) give_murmur(program);
    }
}

/* What it said before its end, a pipe full at most: that most often says why it ended. */
static void give_last_murmurs(Program *program)
{
    uv_os_fd_t fd;
    ssize_t length;

    if (uv_fileno((uv_handle_t *)&program->murmurs.pipe, &fd) != 0) return;
    for (int i = 0; i < 4 && (length = read(fd, program->buffer, sizeof program->buffer)) > 0; i++)
        add_murmurs(program, program->buffer, (size_t)length);
    give_murmur(program);
}

static void let_go(uv_handle_t *handle)
{
    Program *program = handle->data;

    if (--program->held > 0) return;
    if (program->ears.ended != NULL) program->ears.ended(program->why, program->ears.context);
    g_string_free(program->heard, TRUE);
    g_free(program->why);
    g_free(program);
}

static void close_one(uv_handle_t *handle)
{
    if (!uv_is_closing(handle)) uv_close(handle, let_go);
}

static void close_all(Program *program)
{
    if (!uv_is_closing((uv_handle_t *)&program->murmurs.pipe)) give_last_murmurs(program);
    close_one((uv_handle_t *)&program->process);
    close_one((uv_handle_t *)&program->in);
    close_one((uv_handle_t *)&program->out);
    close_one((uv_handle_t *)&program->murmurs.pipe);
    close_one((uv_handle_t *)&program->timer);
    close_one((uv_handle_t *)&program->patience);
}

void program_kill(Program *program, const char *why)
{
    if (program->why == NULL) program->why = g_strdup(why);
    program->ending = true;
    uv_read_stop((uv_stream_t *)&program->out);
    if (!program->exited) uv_process_kill(&program->process, SIGKILL);
}

static void on_patience(uv_timer_t *timer)
{
    Program *program = timer->data;

    if (program->exited)
        close_all(program);
    else
        program_kill(program, program->silent ? "closed its output" : "did not end when asked to");
}

static void process_ended(uv_process_t *process, int64_t status, int signal)
{
    Program *program = process->data;

    program->exited = true;
    if (program->why == NULL)
        program->why = signal != 0 ? g_strdup_printf("ended by signal %d", signal)
                                   : g_strdup_printf("ended with code %d", (int)status);
    /* What it wrote before its end may still be under way; a child of its own may keep the pipe open. */
    if (program->ending || program->silent)
        close_all(program);
    else
        uv_timer_start(&program->patience, on_patience, LAST_WORDS_MS, 0);
}

/* Gives out every whole line. The callbacks may kill the program, or hold it back. */
static void give_lines(Program *program)
{
    char *end;

    while (!program->ending && program->listens &&
           (end = memchr(program->heard->str, '\n', program->heard->len)) != NULL) {
        size_t length = (size_t)(end - program->heard->str);
        g_autofree char *line = g_strndup(program->heard->str, length);
        g_string_erase(program->heard, 0, (gssize)length + 1);
        if (length > 0 && line[length - 1] == '\r') line[--length] = '\0';
        if (length > PROGRAM_LINE_MAX)
            program_kill(program, "wrote a line that is too long");
        else
            program->ears.line(line, length, program->ears.context);
    }
    if (program->heard->len > PROGRAM_LINE_MAX &&
        memchr(program->heard->str, '\n', program->heard->len) == NULL)
        program_kill(program, "wrote a line that is too long");
}

static void give_buffer(uv_handle_t *handle, size_t wanted, uv_buf_t *buffer)
{
    Program *program = handle->data;

    (void)wanted;
    *buffer = uv_buf_init(program->buffer, sizeof program->buffer);
}

static void on_read(uv_stream_t *stream, ssize_t length, const uv_buf_t *buffer)
{
    Program *program = stream->data;

    if (length < 0) {
        program->silent = true;
        uv_read_stop(stream);
        if (program->exited)
            close_all(program);
        else
            uv_timer_start(&program->patience, on_patience, LAST_WORDS_MS, 0);
        return;
    }
    g_string_append_len(program->heard, buffer->base, length);
    give_lines(program);
}

static void on_murmurs(uv_stream_t *stream, ssize_t length, const uv_buf_t *buffer)
{
    Program *program = stream->data;
    Murmurs *murmurs = &program->murmurs;
    uint64_t now_ms = uv_now(stream->loop);

    if (length < 0) {
        give_murmur(program);
        uv_read_stop(stream);
        return;
    }
    if (now_ms - murmurs->since_ms >= MURMURS_MS) {
        murmurs->since_ms = now_ms;
        murmurs->bytes = 0;
    }
    murmurs->bytes += (size_t)length;
    add_murmurs(program, buffer->base, (size_t)length);
    if (murmurs->bytes <= PROGRAM_MURMURS_MAX) return;
    uv_read_stop(stream);
    program_kill(program, "writes without end to standard error");
}

void program_listen(Program *program, bool listens)
{
    if (program->ending || program->listens == listens) return;
    program->listens = listens;
    if (!listens) {
        uv_read_stop((uv_stream_t *)&program->out);
        return;
    }
    uv_read_start((uv_stream_t *)&program->out, give_buffer, on_read);
    give_lines(program);
}

typedef struct {
    uv_write_t request;
    Program *program;
    char *line;
} Saying;

static void said(uv_write_t *request, int status)
{
    Saying *saying = (Saying *)request;

    if (status < 0 && status != UV_ECANCELED) program_kill(saying->program, "does not read");
    g_free(saying->line);
    g_free(saying);
}

bool program_say(Program *program, const char *line)
{
    if (program->ending || uv_is_closing((uv_handle_t *)&program->in)) return false;
    if (uv_stream_get_write_queue_size((uv_stream_t *)&program->in) > PROGRAM_QUEUE_MAX) {
        program_kill(program, "does not read what it is told");
        return false;
    }
    Saying *saying = g_new0(Saying, 1);
    saying->program = program;
    saying->line = g_strconcat(line, "\n", NULL);
    uv_buf_t buffer = uv_buf_init(saying->line, (unsigned)strlen(saying->line));
    if (uv_write(&saying->request, (uv_stream_t *)&program->in, &buffer, 1, said) == 0) return true;
    g_free(saying->line);
    g_free(saying);
    program_kill(program, "does not read");
    return false;
}

static void on_late(uv_timer_t *timer)
{
    Program *program = timer->data;

    if (!program->ending) program->ears.late(program->ears.context);
}

void program_wait(Program *program, int64_t ms)
{
    if (uv_is_closing((uv_handle_t *)&program->timer)) return;
    if (ms < 0) {
        uv_timer_stop(&program->timer);
        return;
    }
    uv_update_time(program->timer.loop);
    uv_timer_start(&program->timer, on_late, (uint64_t)ms, 0);
}

void program_stop(Program *program)
{
    if (program->ending) return;
    program->ending = true;
    uv_read_stop((uv_stream_t *)&program->out);
    close_one((uv_handle_t *)&program->in);
    uv_update_time(program->timer.loop);
    uv_timer_start(&program->patience, on_patience, PATIENCE_MS, 0);
}

void program_abandon(Program *program)
{
    program->ears = (ProgramEars){0};
    program_kill(program, "abandoned");
}

static void on_stillborn(uv_handle_t *handle)
{
    Program *program = handle->data;

    if (--program->held > 0) return;
    g_string_free(program->heard, TRUE);
    g_free(program);
}

static int spawn(Program *program, uv_loop_t *loop, const char *const *command, const char *folder)
{
    uv_stdio_container_t streams[3] = {
        {.flags = UV_CREATE_PIPE | UV_READABLE_PIPE, .data.stream = (uv_stream_t *)&program->in},
        {.flags = UV_CREATE_PIPE | UV_WRITABLE_PIPE, .data.stream = (uv_stream_t *)&program->out},
        {.flags = UV_INHERIT_FD, .data.fd = 2}};
    if (program->ears.murmur != NULL)
        streams[2] = (uv_stdio_container_t){.flags = UV_CREATE_PIPE | UV_WRITABLE_PIPE,
                                            .data.stream = (uv_stream_t *)&program->murmurs.pipe};
    uv_process_options_t options = {.exit_cb = process_ended,
                                    .file = command[0],
                                    .args = (char **)command,
                                    .cwd = folder,
                                    .stdio_count = 3,
                                    .stdio = streams};

    return uv_spawn(loop, &program->process, &options);
}

Program *program_start(uv_loop_t *loop, const char *const *command, const char *folder,
                       const ProgramEars *ears, char **why)
{
    Program *program = g_new0(Program, 1);
    uv_handle_t *handles[] = {
        (uv_handle_t *)&program->process, (uv_handle_t *)&program->in,
        (uv_handle_t *)&program->out,     (uv_handle_t *)&program->murmurs.pipe,
        (uv_handle_t *)&program->timer,   (uv_handle_t *)&program->patience};

    program->ears = *ears;
    program->heard = g_string_new(NULL);
    program->held = G_N_ELEMENTS(handles);
    uv_pipe_init(loop, &program->in, 0);
    uv_pipe_init(loop, &program->out, 0);
    uv_pipe_init(loop, &program->murmurs.pipe, 0);
    uv_timer_init(loop, &program->timer);
    uv_timer_init(loop, &program->patience);
    int code = spawn(program, loop, command, folder);
    for (size_t i = 0; i < G_N_ELEMENTS(handles); i++)
        handles[i]->data = program;
    if (code != 0) {
        *why = g_strdup_printf("cannot be started: %s", uv_strerror(code));
        for (size_t i = 0; i < G_N_ELEMENTS(handles); i++)
            uv_close(handles[i], on_stillborn);
        return NULL;
    }
    program_listen(program, true);
    if (ears->murmur != NULL)
        uv_read_start((uv_stream_t *)&program->murmurs.pipe, give_buffer, on_murmurs);
    return program;
}
