/* SPDX-License-Identifier: Apache-2.0 */
#include "core/watch/digest_words.h"

#include <math.h>
#include <string.h>

#include "core/talk/wording.h"

enum { NAMES_MOST = 8 };

char *digest_words_line(const char *text)
{
    g_autofree char *valid = g_utf8_make_valid(text != NULL ? text : "-", -1);
    GString *line = g_string_new(NULL);

    for (const char *at = valid; *at != '\0'; at = g_utf8_next_char(at)) {
        gunichar letter = g_utf8_get_char(at);
        g_string_append_unichar(line, g_unichar_iscntrl(letter) ? ' ' : letter);
    }
    return g_string_free(line, FALSE);
}

char *digest_words_heading(const Digest *digest, const Pack *pack)
{
    g_autofree char *from = wording_day(pack, digest->from);
    g_autofree char *to = wording_day(pack, digest->to);

    return wording(pack, "digest-heading", "from", from, "to", to, "clinic", digest->clinic, NULL);
}

/* The text of a key with one whole number. */
static char *with_count(const Pack *pack, const char *key, int count)
{
    g_autofree char *value = g_strdup_printf("%d", count);

    return wording(pack, key, "value", value, NULL);
}

/* At most one decimal, half upwards, none where it is 0, with the pack's mark. The page rounds so too (tenth in words.js). */
static char *decimal(const Pack *pack, double number)
{
    g_autofree char *mark = wording(pack, "digest-decimal-mark", NULL);
    g_autofree char *plain = g_strdup_printf("%.1f", floor(number * 10 + 0.5) / 10);
    char *point = strpbrk(plain, ".,");

    if (point == NULL) return g_steal_pointer(&plain);
    *point = '\0';
    return point[1] == '0' ? g_strdup(plain) : g_strconcat(plain, mark, point + 1, NULL);
}

static char *money(const Pack *pack, double amount)
{
    g_autofree char *mark = wording(pack, "digest-decimal-mark", NULL);
    g_autofree char *plain = g_strdup_printf("%.2f", amount);
    char *point = strpbrk(plain, ".,");

    if (point == NULL) return g_steal_pointer(&plain);
    *point = '\0';
    return g_strconcat(plain, mark, point + 1, NULL);
}

char *digest_words_counts(SessionCounts counts, const Pack *pack)
{
    const struct {
        const char *key;
        int count;
    } rest[] = {{"digest-partly", counts.partly},
                {"digest-not", counts.not },
                {"digest-silent", counts.silent},
                {"digest-unasked", counts.unasked},
                {"digest-excused", counts.excused}};
    Adherence whole = adherence_of(counts);
    GString *words = g_string_new(NULL);

    if (whole.prescribed == 0) g_string_append(words, pack_text(pack, "digest-no-sessions"));
    /* What nobody was asked for is not held up as undone. */
    if (whole.due > 0) {
        g_autofree char *done = g_strdup_printf("%d", counts.done);
        g_autofree char *all = g_strdup_printf("%d", whole.prescribed);
        g_autofree char *first =
            wording(pack, "digest-done", "done", done, "prescribed", all, NULL);
        g_string_append(words, first);
    }
    for (size_t i = 0; i < G_N_ELEMENTS(rest); i++) {
        if (rest[i].count == 0) continue;
        g_autofree char *part = with_count(pack, rest[i].key, rest[i].count);
        g_string_append_printf(words, "%s%s", words->len > 0 ? ", " : "", part);
    }
    return g_string_free(words, FALSE);
}

char *digest_words_number(double number, bool has_trend, TrendDirection trend, const Pack *pack)
{
    if (number < 0) return NULL;
    char *words = decimal(pack, number);
    if (!has_trend) return words;
    g_autofree char *key = g_strconcat("digest-", trend_direction_name(trend), NULL);
    g_autofree char *direction = wording(pack, key, NULL);
    g_autofree char *bare = words;
    return g_strdup_printf("%s, %s", bare, direction);
}

char *digest_words_pain(PainTold pain, const char *most, const Pack *pack)
{
    g_autofree char *bare = pain.bare > 0 ? decimal(pack, pain.bare) : NULL;
    g_autoptr(GPtrArray) parts = g_ptr_array_new_with_free_func(g_free);

    if (pain.most > 0)
        g_ptr_array_add(parts, wording(pack, "digest-pain", "value", most, NULL));
    else if (pain.most == 0 && bare == NULL && !pain.some)
        g_ptr_array_add(parts, wording(pack, "digest-no-pain", NULL));
    if (bare != NULL) g_ptr_array_add(parts, wording_kind(pack, "pain-unsaid", bare));
    if (pain.some) g_ptr_array_add(parts, wording_kind(pack, "pain", NULL));
    if (parts->len == 0) return NULL;
    g_ptr_array_add(parts, NULL);
    return g_strjoinv("; ", (char **)parts->pdata);
}

char *digest_words_felt(const DigestClient *client, const Pack *pack)
{
    g_autofree char *strong = digest_words_number(client->intensity, client->has_intensity_trend,
                                                  client->intensity_trend, pack);
    g_autofree char *hurts =
        digest_words_number(client->pain, client->has_pain_trend, client->pain_trend, pack);
    g_autofree char *stretch =
        strong != NULL ? wording(pack, "digest-stretch", "value", strong, NULL) : NULL;
    g_autofree char *pain = digest_words_pain(
        (PainTold){.most = client->pain, .bare = client->pain_bare, .some = client->pain_some},
        hurts, pack);

    if (stretch == NULL || pain == NULL)
        return stretch != NULL ? g_steal_pointer(&stretch) : g_steal_pointer(&pain);
    return g_strdup_printf("%s; %s", stretch, pain);
}

/* The text of "PREFIX-NAME" with spaces in the name as dashes; NULL where the pack has no such key.
 */
static char *named(const Pack *pack, const char *prefix, const char *name)
{
    g_autofree char *key = name != NULL ? g_strconcat(prefix, name, NULL) : NULL;

    if (key == NULL) return NULL;
    g_strdelimit(key, " ", '-');
    return pack_text(pack, key) != NULL ? wording(pack, key, NULL) : NULL;
}

static char *state_words(const DigestMatter *matter, const Pack *pack)
{
    g_autofree char *by = digest_words_line(matter->by);

    if (strcmp(matter->state, "taken") == 0) return wording(pack, "digest-taken", "by", by, NULL);
    if (strcmp(matter->state, "closed") != 0) return wording(pack, "digest-open", NULL);
    g_autofree char *outcome = named(pack, "digest-outcome-", matter->outcome);
    return wording(pack, "digest-closed", "value", outcome != NULL ? outcome : "-", NULL);
}

char *digest_words_matter(const DigestMatter *matter, const Pack *pack)
{
    g_autofree char *kind = wording_kind(pack, matter->named, matter->value);
    g_autofree char *date = wording_day_short(pack, matter->date, false);
    g_autofree char *state = state_words(matter, pack);
    g_autofree char *words = g_strdup_printf("%s, %s (%s)", kind, date, state);

    return digest_words_line(words);
}

/* "Stays" goes without saying where there is something else to say, and nothing is ready behind a bar. */
GPtrArray *digest_words_state(const DigestClient *client, const Pack *pack)
{
    GPtrArray *lines = g_ptr_array_new_with_free_func(g_free);
    char *bar = digest_words_bar(client->bar, pack);
    char *ready = bar == NULL ? named(pack, "digest-ready-", client->readiness) : NULL;

    if (bar != NULL) g_ptr_array_add(lines, bar);
    for (guint i = 0; i < client->alerts->len; i++)
        g_ptr_array_add(lines, digest_words_matter(client->alerts->pdata[i], pack));
    if (ready != NULL && (lines->len == 0 || strcmp(client->readiness, "stay") != 0))
        g_ptr_array_add(lines, ready);
    else
        g_free(ready);
    return lines;
}

char *digest_words_bar(const char *bar, const Pack *pack)
{
    return named(pack, "digest-bar-", bar);
}

static void add_count(GPtrArray *lines, const Pack *pack, const char *key, int count)
{
    if (count > 0) g_ptr_array_add(lines, with_count(pack, key, count));
}

static void add_value(GPtrArray *lines, const Pack *pack, const char *key, char *value)
{
    g_ptr_array_add(lines, wording(pack, key, "value", value, NULL));
    g_free(value);
}

/* "Ada N., Bert O.", or how many where they are many. */
static char *ready_names(const Digest *digest, int *n)
{
    GString *names = g_string_new(NULL);

    *n = 0;
    for (guint i = 0; i < digest->clients->len; i++) {
        const DigestClient *client = digest->clients->pdata[i];
        if (client->bar != NULL || g_strcmp0(client->readiness, "move on") != 0) continue;
        if (++*n > NAMES_MOST) continue;
        g_autofree char *line = digest_words_line(client->name);
        g_autofree char *name = wording_name(line);
        g_string_append_printf(names, "%s%s", names->len > 0 ? ", " : "", name);
    }
    if (*n > NAMES_MOST) g_string_append(names, ", …");
    return g_string_free(names, FALSE);
}

GPtrArray *digest_words_first(const Digest *digest, const Pack *pack)
{
    GPtrArray *lines = g_ptr_array_new_with_free_func(g_free);
    int asked, practised, ready;

    digest_practised(digest, &asked, &practised);
    g_autofree char *some = g_strdup_printf("%d", practised);
    g_autofree char *all = g_strdup_printf("%d", asked);
    g_autofree char *names = ready_names(digest, &ready);
    g_autofree char *number = g_strdup_printf("%d", ready);
    g_ptr_array_add(lines, wording(pack, "digest-practised", "value", some, "total", all, NULL));
    g_ptr_array_add(lines, with_count(pack, "digest-need-call", (int)digest->calls->len));
    g_autofree char *line = wording(pack, "digest-ready", "value", number, NULL);
    g_ptr_array_add(lines, ready > 0 ? g_strdup_printf("%s (%s)", line, names) : g_strdup(line));
    return lines;
}

GPtrArray *digest_words_clinic(const Digest *digest, const Pack *pack)
{
    GPtrArray *lines = g_ptr_array_new_with_free_func(g_free);

    g_ptr_array_add(lines, digest_words_counts(digest_total(digest), pack));
    add_count(lines, pack, "digest-unread", digest->unread);
    add_count(lines, pack, "digest-glance", digest->glance);
    if (digest->settled > 0) {
        g_autofree char *settled = g_strdup_printf("%d", digest->settled);
        g_autofree char *missed = g_strdup_printf("%d", digest->missed);
        g_ptr_array_add(lines,
                        wording(pack, "digest-settled", "value", settled, "missed", missed, NULL));
    }
    add_value(lines, pack, "digest-away", decimal(pack, digest->away_hours));
    add_value(lines, pack, "digest-segments", g_strdup_printf("%d", digest->segments));
    if (digest->cost >= 0) add_value(lines, pack, "digest-cost", money(pack, digest->cost));
    return lines;
}
