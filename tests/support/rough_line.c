/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/rough_line.h"

#include <netinet/in.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>
#include <uv.h>

enum { REQUEST, ANSWER };

typedef struct {
    RoughCut cut;
    int after;
    bool reset;
    int times;
} Cutting;

struct RoughLine {
    uv_loop_t loop;
    GThread *thread;
    uv_async_t wake;
    uv_tcp_t *listener; /* NULL: down */
    GPtrArray *links;
    int port;
    int behind;
    int keeper; /* keeps the port while it is down */

    GMutex lock;
    GCond obeyed;
    bool ending;
    bool wanted_down;
    bool is_down;
    int slow_ms[2];
    Cutting cutting;
    int cuts;
    int draining; /* cut links whose far end has not yet closed */
};

typedef struct {
    int64_t at_ms;
    GBytes *bytes;
} Piece;

/* One way of a link. */
typedef struct {
    uv_tcp_t stream; /* where it comes from; its bytes go to the other's */
    uv_timer_t timer;
    GQueue pieces; /* of Piece */
    int passed;    /* of this exchange */
    bool ended;    /* no more will come */
    struct Link *link;
    char buffer[16384];
} Way;

typedef struct Link {
    RoughLine *line;
    Way ways[2];
    int heard_last;
    bool doomed; /* this exchange is to be cut */
    int handles;
    bool closing;
    bool draining;
} Link;

typedef struct {
    uv_write_t write;
    GBytes *bytes;
} Saying;

/* --- the end of a link --- */

static void piece_free(void *data)
{
    Piece *piece = data;

    g_bytes_unref(piece->bytes);
    g_free(piece);
}

static void handle_closed(uv_handle_t *handle)
{
    Link *link = handle->data;

    if (--link->handles > 0) return;
    for (int i = 0; i < 2; i++)
        g_queue_clear_full(&link->ways[i].pieces, piece_free);
    g_mutex_lock(&link->line->lock);
    link->line->draining -= link->draining;
    g_cond_broadcast(&link->line->obeyed);
    g_mutex_unlock(&link->line->lock);
    g_free(link);
}

static void leave(Link *link)
{
    if (link->closing) return;
    link->closing = true;
    g_ptr_array_remove_fast(link->line->links, link);
    for (int i = 0; i < 2; i++)
        uv_close((uv_handle_t *)&link->ways[i].timer, handle_closed);
}

static void close_end(uv_tcp_t *stream)
{
    if (!uv_is_closing((uv_handle_t *)stream)) uv_close((uv_handle_t *)stream, handle_closed);
}

static void shut(uv_shutdown_t *shutdown, int status)
{
    (void)status;
    close_end((uv_tcp_t *)shutdown->handle);
    g_free(shutdown);
}

static void give_buffer(uv_handle_t *handle, size_t suggested, uv_buf_t *buffer);

static void drained(uv_stream_t *stream, ssize_t length, const uv_buf_t *buffer)
{
    (void)buffer;
    if (length < 0) close_end((uv_tcp_t *)stream);
}

static void shut_alone(uv_shutdown_t *shutdown, int status)
{
    (void)status;
    g_free(shutdown);
}

/* After what was written, once the other side has read it all and closed as well. */
static void end_after_reads(uv_tcp_t *stream)
{
    uv_shutdown_t *shutdown = g_new0(uv_shutdown_t, 1);

    uv_read_stop((uv_stream_t *)stream);
    if (uv_shutdown(shutdown, (uv_stream_t *)stream, shut_alone) != 0) g_free(shutdown);
    if (uv_read_start((uv_stream_t *)stream, give_buffer, drained) != 0) close_end(stream);
}

/* After what was written. */
static void end_after_writes(uv_tcp_t *stream)
{
    uv_shutdown_t *shutdown = g_new0(uv_shutdown_t, 1);

    uv_read_stop((uv_stream_t *)stream);
    if (uv_shutdown(shutdown, (uv_stream_t *)stream, shut) == 0) return;
    g_free(shutdown);
    close_end(stream);
}

static void end_link(Link *link, bool reset_near, bool reset_far)
{
    uv_tcp_t *near = &link->ways[REQUEST].stream, *far = &link->ways[ANSWER].stream;

    if (link->closing) return;
    leave(link);
    if (reset_near)
        uv_tcp_close_reset(near, handle_closed);
    else
        end_after_writes(near);
    if (reset_far)
        uv_tcp_close_reset(far, handle_closed);
    else if (link->draining)
        end_after_reads(far);
    else
        end_after_writes(far);
}

/* --- what passes --- */

static void said(uv_write_t *write, int status)
{
    Saying *saying = (Saying *)write;

    (void)status;
    g_bytes_unref(saying->bytes);
    g_free(saying);
}

static void pass_on(Way *way, GBytes *bytes)
{
    Way *other = &way->link->ways[way == &way->link->ways[REQUEST] ? ANSWER : REQUEST];
    gsize length;
    const char *data = g_bytes_get_data(bytes, &length);
    uv_buf_t buffer = uv_buf_init((char *)data, (unsigned)length);
    Saying *saying = g_new0(Saying, 1);

    saying->bytes = g_bytes_ref(bytes);
    uv_write(&saying->write, (uv_stream_t *)&other->stream, &buffer, 1, said);
}

static void on_due(uv_timer_t *timer);

static void set_timer(Way *way)
{
    Piece *first = g_queue_peek_head(&way->pieces);
    int64_t now = (int64_t)uv_now(way->timer.loop);

    if (first != NULL) uv_timer_start(&way->timer, on_due, (uint64_t)MAX(0, first->at_ms - now), 0);
}

static void on_due(uv_timer_t *timer)
{
    Link *link = timer->data;
    Way *way = timer == &link->ways[REQUEST].timer ? &link->ways[REQUEST] : &link->ways[ANSWER];
    Piece *piece;

    while ((piece = g_queue_peek_head(&way->pieces)) != NULL &&
           piece->at_ms <= (int64_t)uv_now(timer->loop)) {
        pass_on(way, piece->bytes);
        piece_free(g_queue_pop_head(&way->pieces));
    }
    if (way->ended && g_queue_is_empty(&way->pieces))
        end_link(link, false, false);
    else
        set_timer(way);
}

/* After how many bytes of a piece the link is to be cut; -1: it is not. */
static int cut_at(const Link *link, const Cutting *cutting, int direction, int length)
{
    RoughCut cut = direction == REQUEST ? CUT_REQUEST : CUT_ANSWER;
    int left = cutting->after - link->ways[direction].passed;

    return link->doomed && cutting->cut == cut && left >= 0 && left <= length ? left : -1;
}

static void begin_exchange(Link *link, Cutting *cutting)
{
    link->ways[REQUEST].passed = link->ways[ANSWER].passed = 0;
    link->doomed = cutting->times > 0;
    cutting->times -= link->doomed;
}

static void put_off(Way *way, GBytes *bytes, int ms)
{
    Piece *piece = g_new0(Piece, 1);

    *piece = (Piece){(int64_t)uv_now(way->timer.loop) + ms, g_bytes_ref(bytes)};
    g_queue_push_tail(&way->pieces, piece);
    set_timer(way);
}

static void take(Link *link, int direction, const char *data, int length)
{
    RoughLine *line = link->line;
    Way *way = &link->ways[direction];

    g_mutex_lock(&line->lock);
    if (direction == REQUEST && link->heard_last == ANSWER) begin_exchange(link, &line->cutting);
    int slow_ms = line->slow_ms[direction];
    int cut = cut_at(link, &line->cutting, direction, length);
    bool reset = line->cutting.reset;
    line->cuts += cut >= 0;
    line->draining += cut >= 0;
    g_mutex_unlock(&line->lock);
    link->draining = cut >= 0;
    link->heard_last = direction;
    way->passed += length;
    g_autoptr(GBytes) bytes = g_bytes_new(data, (gsize)(cut >= 0 ? cut : length));
    if (cut >= 0) {
        if (cut > 0) pass_on(way, bytes);
        end_link(link, reset, false);
    } else if (slow_ms == 0 && g_queue_is_empty(&way->pieces)) {
        pass_on(way, bytes);
    } else if (slow_ms >= 0) {
        put_off(way, bytes, slow_ms);
    }
}

static void came(uv_stream_t *stream, ssize_t length, const uv_buf_t *buffer)
{
    Link *link = stream->data;
    int direction = stream == (uv_stream_t *)&link->ways[REQUEST].stream ? REQUEST : ANSWER;
    Way *way = &link->ways[direction];

    if (link->closing || length == 0) return;
    if (length > 0) {
        take(link, direction, buffer->base, (int)length);
        return;
    }
    way->ended = true;
    uv_read_stop(stream);
    if (direction == REQUEST || g_queue_is_empty(&way->pieces)) end_link(link, false, false);
}

static void give_buffer(uv_handle_t *handle, size_t suggested, uv_buf_t *buffer)
{
    Link *link = handle->data;
    Way *way = handle == (uv_handle_t *)&link->ways[REQUEST].stream ? &link->ways[REQUEST]
                                                                    : &link->ways[ANSWER];

    (void)suggested;
    *buffer = uv_buf_init(way->buffer, sizeof way->buffer);
}

/* --- its beginning --- */

static void reached(uv_connect_t *connect, int status)
{
    Link *link = connect->data;

    g_free(connect);
    if (link->closing) return;
    if (status < 0) {
        end_link(link, true, true);
        return;
    }
    for (int i = 0; i < 2; i++)
        uv_read_start((uv_stream_t *)&link->ways[i].stream, give_buffer, came);
}

static bool cut_at_once(RoughLine *line, bool *reset)
{
    g_mutex_lock(&line->lock);
    bool cut = line->cutting.cut == CUT_CONNECTION && line->cutting.times > 0;
    *reset = line->cutting.reset;
    if (cut) {
        line->cutting.times--;
        line->cuts++;
    }
    g_mutex_unlock(&line->lock);
    return cut;
}

static void connected(uv_stream_t *listener, int status)
{
    RoughLine *line = listener->data;
    struct sockaddr_in address;
    bool reset;

    if (status < 0) return;
    Link *link = g_new0(Link, 1);
    link->line = line;
    link->heard_last = ANSWER;
    g_ptr_array_add(line->links, link);
    for (int i = 0; i < 2; i++) {
        Way *way = &link->ways[i];
        way->link = link;
        uv_tcp_init(&line->loop, &way->stream);
        uv_timer_init(&line->loop, &way->timer);
        way->stream.data = way->timer.data = link;
        g_queue_init(&way->pieces);
        link->handles += 2;
    }
    g_assert(uv_accept(listener, (uv_stream_t *)&link->ways[REQUEST].stream) == 0);
    if (cut_at_once(line, &reset)) {
        end_link(link, reset, true);
        return;
    }
    uv_connect_t *connect = g_new0(uv_connect_t, 1);
    connect->data = link;
    g_assert(uv_ip4_addr("127.0.0.1", line->behind, &address) == 0);
    g_assert(uv_tcp_connect(connect, &link->ways[ANSWER].stream, (struct sockaddr *)&address,
                            reached) == 0);
}

/* --- life --- */

static void listener_closed(uv_handle_t *handle)
{
    g_free(handle);
}

static void go_down(RoughLine *line)
{
    if (line->listener != NULL)
        uv_close((uv_handle_t *)g_steal_pointer(&line->listener), listener_closed);
    while (line->links->len > 0)
        end_link(line->links->pdata[0], true, true);
}

static void come_up(RoughLine *line)
{
    struct sockaddr_in address;

    if (line->listener != NULL) return;
    line->listener = g_new0(uv_tcp_t, 1);
    uv_tcp_init(&line->loop, line->listener);
    line->listener->data = line;
    g_assert(uv_ip4_addr("127.0.0.1", line->port, &address) == 0);
    g_assert(uv_tcp_bind(line->listener, (struct sockaddr *)&address, 0) == 0);
    g_assert(uv_listen((uv_stream_t *)line->listener, 256, connected) == 0);
}

static void on_wake(uv_async_t *wake)
{
    RoughLine *line = wake->data;

    g_mutex_lock(&line->lock);
    bool down = line->wanted_down, ending = line->ending;
    g_mutex_unlock(&line->lock);
    if (down || ending)
        go_down(line);
    else
        come_up(line);
    if (ending) uv_close((uv_handle_t *)wake, NULL);
    g_mutex_lock(&line->lock);
    line->is_down = down;
    g_cond_broadcast(&line->obeyed);
    g_mutex_unlock(&line->lock);
}

static void *serve(void *context)
{
    RoughLine *line = context;

    uv_run(&line->loop, UV_RUN_DEFAULT);
    g_assert(uv_loop_close(&line->loop) == 0);
    return NULL;
}

/* A port that stays ours while nobody listens on it. */
static void keep_port(RoughLine *line)
{
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t length = sizeof address;
    int yes = 1;

    line->keeper = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    g_assert(setsockopt(line->keeper, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes) == 0);
    g_assert(bind(line->keeper, (struct sockaddr *)&address, length) == 0);
    g_assert(getsockname(line->keeper, (struct sockaddr *)&address, &length) == 0);
    line->port = ntohs(address.sin_port);
}

RoughLine *rough_line_new(int port)
{
    RoughLine *line = g_new0(RoughLine, 1);

    line->behind = port;
    line->links = g_ptr_array_new();
    g_mutex_init(&line->lock);
    g_cond_init(&line->obeyed);
    keep_port(line);
    uv_loop_init(&line->loop);
    uv_async_init(&line->loop, &line->wake, on_wake);
    line->wake.data = line;
    come_up(line);
    line->thread = g_thread_new("rough-line", serve, line);
    return line;
}

void rough_line_free(RoughLine *line)
{
    g_mutex_lock(&line->lock);
    line->ending = true;
    g_mutex_unlock(&line->lock);
    uv_async_send(&line->wake);
    g_thread_join(line->thread);
    close(line->keeper);
    g_ptr_array_unref(line->links);
    g_mutex_clear(&line->lock);
    g_cond_clear(&line->obeyed);
    g_free(line);
}

int rough_line_port(const RoughLine *line)
{
    return line->port;
}

void rough_line_down(RoughLine *line, bool down)
{
    g_mutex_lock(&line->lock);
    line->wanted_down = down;
    uv_async_send(&line->wake);
    while (line->is_down != down)
        g_cond_wait(&line->obeyed, &line->lock);
    g_mutex_unlock(&line->lock);
}

void rough_line_slow(RoughLine *line, int request_ms, int answer_ms)
{
    g_mutex_lock(&line->lock);
    line->slow_ms[REQUEST] = request_ms;
    line->slow_ms[ANSWER] = answer_ms;
    g_mutex_unlock(&line->lock);
}

void rough_line_cut(RoughLine *line, RoughCut cut, int after, bool reset, int times)
{
    g_mutex_lock(&line->lock);
    line->cutting = (Cutting){cut, after, reset, times};
    g_mutex_unlock(&line->lock);
}

int rough_line_cuts(RoughLine *line)
{
    g_mutex_lock(&line->lock);
    while (line->draining > 0)
        g_cond_wait(&line->obeyed, &line->lock);
    int cuts = line->cuts;
    g_mutex_unlock(&line->lock);
    return cuts;
}
