/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/relay/murmur.h"

struct Murmur {
    Desk *desk;
    char *gateway;
    Timer *timer; /* set: a minute runs */
    int told;
    int64_t left_out;
};

/* By itself, for the log's own bound is shared by all programs. */
static void tell(const Murmur *murmur, const char *event, const char *name, const char *value)
{
    g_autoptr(GString) line = g_string_new(NULL);

    log_pair(line, "event", event);
    log_pair(line, "gateway", murmur->gateway);
    log_pair(line, name, value);
    g_string_append_c(line, '\n');
    log_lines(desk_log(murmur->desk), LOG_WARNINGS, line);
}

void murmur_end(Murmur *murmur)
{
    if (murmur->left_out == 0) return;
    g_autofree char *lines = g_strdup_printf("%" G_GINT64_FORMAT, murmur->left_out);

    tell(murmur, "program.left-out", "lines", lines);
    murmur->left_out = 0;
}

static void on_minute(void *context)
{
    Murmur *murmur = context;

    murmur_end(murmur);
    murmur->told = 0;
}

void murmur_add(Murmur *murmur, const char *line, size_t length)
{
    if (timer_at(murmur->timer) == CLOCK_NEVER)
        timer_set(murmur->timer, clock_now(desk_clock(murmur->desk)) + MINUTE_MS);
    if (murmur->told == MURMUR_LINES_A_MINUTE) {
        murmur->left_out++;
        return;
    }
    g_autofree char *words = g_strndup(line, length);

    murmur->told++;
    tell(murmur, "program.says", "words", words);
}

Murmur *murmur_new(Desk *desk, const char *gateway)
{
    Murmur *murmur = g_new0(Murmur, 1);

    murmur->desk = desk;
    murmur->gateway = g_strdup(gateway);
    murmur->timer = timer_new(desk_clock(desk), on_minute, murmur);
    return murmur;
}

void murmur_free(Murmur *murmur)
{
    timer_free(murmur->timer);
    g_free(murmur->gateway);
    g_free(murmur);
}
