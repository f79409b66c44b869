/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/log/log.h"

#include <stdarg.h>
#include <string.h>

#include "core/calendar/date.h"

#define VALUE_BYTES_MAX 200
#define LINES_A_MINUTE 10

struct Log {
    FILE *to;
    LogLevel level;
    Clock *clock;
    bool journal;
    GHashTable *recent; /* event -> Recent */
};

/* How often an event was told of in its minute. */
typedef struct {
    int64_t minute;
    int told;
    int left_out;
} Recent;

static const char *const LEVELS[] = {[LOG_ERRORS] = "errors",
                                     [LOG_WARNINGS] = "warnings",
                                     [LOG_PLAIN] = "plain",
                                     [LOG_FULL] = "full"};

bool log_level_parse(const char *word, LogLevel *level)
{
    for (size_t i = 0; i < G_N_ELEMENTS(LEVELS); i++)
        if (strcmp(word, LEVELS[i]) == 0) {
            *level = (LogLevel)i;
            return true;
        }
    return false;
}

const char *log_level_name(LogLevel level)
{
    return LEVELS[level];
}

Log *log_new(FILE *to, LogLevel level, Clock *clock, bool journal)
{
    Log *log = g_new0(Log, 1);

    *log = (Log){.to = to, .level = level, .clock = clock, .journal = journal};
    log->recent = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
    return log;
}

void log_free(Log *log)
{
    if (log == NULL) return;
    g_hash_table_unref(log->recent);
    g_free(log);
}

bool log_is_full(const Log *log)
{
    return log != NULL && log->level == LOG_FULL;
}

static bool is_bare(const char *value)
{
    for (const char *p = value; *p != '\0'; p++)
        if (!g_ascii_isalnum(*p) && strchr("-_.:/+", *p) == NULL) return false;
    return value[0] != '\0';
}

/* Between quotes; what would end them, or the line, or confuse a terminal, is escaped. */
static void add_quoted(GString *line, const char *value)
{
    g_autofree char *sound = g_utf8_make_valid(value, MIN(strlen(value), VALUE_BYTES_MAX));

    g_string_append_c(line, '"');
    for (const char *p = sound; *p != '\0'; p = g_utf8_next_char(p)) {
        gunichar c = g_utf8_get_char(p);
        if (c == '"' || c == '\\')
            g_string_append_printf(line, "\\%c", (char)c);
        else if (!g_unichar_isprint(c))
            g_string_append_printf(line, "\\u%04x", c);
        else
            g_string_append_unichar(line, c);
    }
    g_string_append_c(line, '"');
}

void log_pair(GString *line, const char *name, const char *value)
{
    if (value == NULL) return;
    g_string_append_printf(line, " %s=", name);
    if (strlen(value) <= VALUE_BYTES_MAX && is_bare(value))
        g_string_append(line, value);
    else
        add_quoted(line, value);
}

/* What each line begins with. The priorities are those of syslog: 3 error, 4 warning, 6 information, 7 debug. */
static char *beginning(const Log *log, LogLevel level)
{
    static const char *const PRIORITIES[] = {
        [LOG_ERRORS] = "<3>", [LOG_WARNINGS] = "<4>", [LOG_PLAIN] = "<6>", [LOG_FULL] = "<7>"};
    static const char *const WORDS[] = {[LOG_ERRORS] = "error",
                                        [LOG_WARNINGS] = "warning",
                                        [LOG_PLAIN] = "note",
                                        [LOG_FULL] = "detail"};
    bool own = !log->journal || clock_is_virtual(log->clock);
    g_autofree char *now = own ? instant_format_exact(clock_now(log->clock)) : NULL;

    return g_strconcat(log->journal ? PRIORITIES[level] : "", own ? "at=" : "", own ? now : "",
                       own ? " " : "", "level=", WORDS[level], NULL);
}

/* What was left out of an earlier minute, or 0; and whether the event may be told of once more. */
static bool may_tell(Log *log, const char *event, int *left_out)
{
    int64_t minute = clock_now(log->clock) / MINUTE_MS;
    Recent *recent = g_hash_table_lookup(log->recent, event);

    *left_out = 0;
    if (recent == NULL) {
        recent = g_new0(Recent, 1);
        g_hash_table_insert(log->recent, g_strdup(event), recent);
    }
    if (recent->minute != minute) {
        *left_out = recent->left_out;
        *recent = (Recent){.minute = minute};
    }
    if (++recent->told <= LINES_A_MINUTE) return true;
    recent->left_out++;
    return false;
}

void log_line(Log *log, LogLevel level, const char *event, ...)
{
    int left_out;

    if (log == NULL || level > log->level || !may_tell(log, event, &left_out)) return;
    g_autofree char *begin = beginning(log, level);
    g_autoptr(GString) line = g_string_new(begin);
    va_list pairs;

    log_pair(line, "event", event);
    va_start(pairs, event);
    for (const char *name; (name = va_arg(pairs, const char *)) != NULL;)
        log_pair(line, name, va_arg(pairs, const char *));
    va_end(pairs);
    if (left_out > 0) g_string_append_printf(line, " left_out=%d", left_out);
    fprintf(log->to, "%s\n", line->str);
    fflush(log->to);
}

void log_lines(Log *log, LogLevel level, const GString *lines)
{
    if (log == NULL || level > log->level || lines->len == 0) return;
    g_autofree char *begin = beginning(log, level);
    g_autoptr(GString) all = g_string_sized_new(lines->len * 2);
    const char *end;

    for (const char *at = lines->str; (end = strchr(at, '\n')) != NULL; at = end + 1) {
        g_string_append(all, begin);
        g_string_append_len(all, at, end - at + 1);
    }
    fwrite(all->str, 1, all->len, log->to);
    fflush(log->to);
}
