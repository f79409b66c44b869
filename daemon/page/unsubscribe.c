/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/page/unsubscribe.h"

#include <string.h>

#include "core/talk/wording.h"
#include "daemon/jobs/unsubscribe.h"
#include "daemon/jobs/words.h"
#include "daemon/page/door.h"
#include "daemon/page/meter.h"

#define PART_CHARS_MAX 64

static const MeterRate ONE = {.burst = 10, .each_ms = 60 * 1000};
static const MeterRate ALL = {.burst = 60, .each_ms = 100};

/* One button that posts back to where the page came from, in the clinic's style, and nothing else. */
static const char *const HEADERS[] = {
    "Content-Security-Policy: default-src 'none'; style-src 'self'; form-action 'self'; base-uri "
    "'none'; frame-ancestors 'none'",
    "X-Content-Type-Options: nosniff",
    "X-Frame-Options: DENY",
    "Referrer-Policy: no-referrer",
    "Cache-Control: no-store",
    NULL,
};

struct Unsubscribe {
    uv_loop_t *loop;
    Daemon *daemon;
    Meter *meter;
};

typedef struct {
    ServeRequest *request;
    char *client, *token;
    bool ends;
    char *language; /* NULL: the token is none */
    char *clinic;
    char *phone;
    char *words; /* that it has ended, or what the button does */
    char *button;
} Click;

Unsubscribe *unsubscribe_new(uv_loop_t *loop, Daemon *daemon)
{
    Unsubscribe *unsubscribe = g_new0(Unsubscribe, 1);

    *unsubscribe = (Unsubscribe){loop, daemon, meter_new()};
    return unsubscribe;
}

void unsubscribe_free(Unsubscribe *unsubscribe)
{
    if (unsubscribe == NULL) return;
    meter_free(unsubscribe->meter);
    g_free(unsubscribe);
}

static bool click_job(Job *job, void *context)
{
    Click *click = context;
    g_autoptr(Person) person = unsubscribe_person(job, click->client, click->token);
    Worded words;

    if (person == NULL) return true;
    if (click->ends) unsubscribe_email(job, person);
    words_key(job, person, CHANNEL_EMAIL, click->ends ? "stopped" : "unsubscribe-ask", &words);
    click->words = g_strdup(words.text);
    worded_clear(&words);
    click->button =
        wording(settings_pack(job->settings, person->language), "unsubscribe-button", NULL);
    click->language = g_strdup(person->language);
    click->clinic = g_strdup(job->clinic->name);
    return true;
}

static GBytes *page_of(const Click *click)
{
    g_autofree char *title = g_markup_escape_text(click->clinic, -1);
    g_autofree char *language = g_markup_escape_text(click->language, -1);
    g_autofree char *words = g_markup_escape_text(click->words, -1);
    g_autofree char *button = g_markup_escape_text(click->button, -1);
    g_autofree char *form =
        click->ends ? g_strdup("")
                    : g_strdup_printf("<form method=\"post\"><input type=\"hidden\" "
                                      "name=\"List-Unsubscribe\" value=\"One-Click\"><button "
                                      "class=\"main\">%s</button></form>",
                                      button);
    char *page = g_strdup_printf(
        "<!DOCTYPE html>\n<html lang=\"%s\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" "
        "content=\"width=device-width\"><meta name=\"robots\" "
        "content=\"noindex\"><title>%s</title><link rel=\"stylesheet\" "
        "href=\"/www/page.css\"></head>\n"
        "<body><main><section "
        "class=\"door\"><h1>%s</h1><p>%s</p>%s</section></main></body></html>\n",
        language, title, title, words, form);

    return g_bytes_new_take(page, strlen(page));
}

static void clicked(StoreStatus status, void *context)
{
    Click *click = context;

    if (status != STORE_OK)
        door_refuse(click->request, 503, "unsubscribe", "cannot be kept now; try again later");
    else if (click->language == NULL)
        door_refuse(click->request, 404, "unsubscribe", "there is nothing under this link");
    else
        serve_answer(click->request, 200, "text/html; charset=utf-8", NULL, page_of(click));
    g_free(click->client);
    g_free(click->token);
    g_free(click->language);
    g_free(click->clinic);
    g_free(click->words);
    g_free(click->button);
    g_free(click);
}

/* False where it is no pair "CLIENT/TOKEN". */
static bool read_link(const char *rest, Click *click)
{
    const char *slash = strchr(rest, '/');

    if (slash == NULL || slash == rest || slash - rest > PART_CHARS_MAX || slash[1] == '\0' ||
        strlen(slash + 1) > PART_CHARS_MAX)
        return false;
    click->client = g_strndup(rest, (gsize)(slash - rest));
    click->token = g_strdup(slash + 1);
    return true;
}

static bool is_slowed(Unsubscribe *unsubscribe, const char *rest)
{
    g_autofree char *one = g_compute_checksum_for_string(G_CHECKSUM_SHA256, rest, -1);
    int64_t now_ms = (int64_t)uv_now(unsubscribe->loop);

    return !meter_take(unsubscribe->meter, "", &ALL, now_ms) ||
           !meter_take(unsubscribe->meter, one, &ONE, now_ms);
}

bool unsubscribe_answer(Unsubscribe *unsubscribe, ServeRequest *request)
{
    static const char *const LATER[] = {"Retry-After: 60", NULL};
    const char *path = serve_path(request), *method = serve_method(request);
    Click click = {.request = request, .ends = strcmp(method, "POST") == 0};

    if (!g_str_has_prefix(path, UNSUBSCRIBE_PATH)) return false;
    serve_also(request, HEADERS);
    if (is_slowed(unsubscribe, path)) {
        serve_also(request, LATER);
        door_refuse(request, 429, "unsubscribe", "is asked for too often");
    } else if (!click.ends && strcmp(method, "GET") != 0) {
        door_refuse(request, 405, "request", "only GET and POST are known here");
    } else if (!read_link(path + strlen(UNSUBSCRIBE_PATH), &click)) {
        door_refuse(request, 404, "unsubscribe", "there is nothing under this link");
    } else {
        desk_submit(daemon_desk(unsubscribe->daemon), click_job, clicked,
                    g_memdup2(&click, sizeof click));
    }
    return true;
}
