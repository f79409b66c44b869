/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/rough_site.h"

#include <string.h>

#include "core/calendar/date.h"

void site_replace(Site *site, const char *part, const char *by)
{
    g_autofree char *path = g_build_filename(site->clinic, "clinic.yaml", NULL);
    g_autofree char *yaml = NULL;

    g_assert_true(g_file_get_contents(path, &yaml, NULL, NULL));
    g_auto(GStrv) parts = g_strsplit(yaml, part, -1);
    g_assert_cmpint(g_strv_length(parts), >, 1);
    g_autofree char *changed = g_strjoinv(by, parts);
    site_settings(site, changed);
}

static void lead(Site *site, int from, const RoughLine *line)
{
    g_autofree char *part = g_strdup_printf("127.0.0.1:%d", from);
    g_autofree char *by = g_strdup_printf("127.0.0.1:%d", rough_line_port(line));

    site_replace(site, part, by);
}

RoughSite rough_site_open(Speech speech, const char *answer, const char *start)
{
    RoughSite rough = {.site = site_new(), .gateway = stand_in_new(speech_map(speech))};
    int texts = stand_in_port(rough.gateway), mail = stand_in_smtp_port(rough.gateway);
    g_autofree char *kind = g_strdup_printf("kind: http-sms\n    answer: %s\n", answer);

    rough.texts = rough_line_new(texts);
    rough.mail = rough_line_new(mail);
    site_use(rough.site, rough.gateway, speech, site_free_port());
    site_replace(rough.site, "kind: http-sms\n", kind);
    site_replace(rough.site, "every: 60s", "every: 1d");
    lead(rough.site, texts, rough.texts);
    lead(rough.site, mail, rough.mail);
    g_assert_cmpint(site_start(rough.site, start), ==, 0);
    return rough;
}

RoughSite rough_site_open_alone(const char *start)
{
    RoughSite rough = {.site = site_new(), .gateway = stand_in_new(speech_map(SPEAKS_FORM))};
    int texts = stand_in_port(rough.gateway);
    g_autofree char *path = g_build_filename(rough.site->clinic, "clinic.yaml", NULL);
    g_autofree char *yaml = NULL;

    rough.texts = rough_line_new(texts);
    rough.mail = rough_line_new(stand_in_smtp_port(rough.gateway));
    site_use(rough.site, rough.gateway, SPEAKS_FORM, site_free_port());
    g_assert_true(g_file_get_contents(path, &yaml, NULL, NULL));
    char *from = strstr(yaml, "  post:\n"), *to_here = strstr(yaml, "  texts:\n");
    memmove(from, to_here, strlen(to_here) + 1);
    site_settings(rough.site, yaml);
    lead(rough.site, texts, rough.texts);
    g_assert_cmpint(site_start(rough.site, start), ==, 0);
    return rough;
}

void rough_site_close(RoughSite *rough)
{
    site_free(rough->site);
    rough_line_free(rough->texts);
    rough_line_free(rough->mail);
    stand_in_free(rough->gateway);
}

void rough_site_to(RoughSite *rough, int64_t at_ms)
{
    g_autofree char *to = instant_format(at_ms);

    g_assert_true(site_clock(rough->site, to));
}

int rough_site_seen(RoughSite *rough, const char *id)
{
    int seen = 0;

    for (int i = 0; i < stand_in_count(rough->gateway); i++)
        seen += g_strcmp0(stand_in_send(rough->gateway, i)->id, id) == 0;
    return seen;
}
