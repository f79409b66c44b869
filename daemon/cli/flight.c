/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/cli/flight.h"

#include <stdlib.h>

#include "daemon/cli/exchange.h"
#include "daemon/cli/remote.h"

/* Four: one that osierd works on, one that waits for it, and two on the way there and back. */
#define CALLS_MAX 4
#define WAIT_MS 1000

typedef struct {
    CURL *curl;
    char *text; /* of the body */
    GString *bytes;
    void *about;
    bool over;
    CURLcode result;
} Going;

struct Flight {
    const Cli *cli;
    CURLM *multi;
    FlightHeard *heard;
    GDestroyNotify forget;
    GQueue going; /* of Going, the oldest first */
    int code;     /* the first failure */
};

Flight *flight_new(const Cli *cli, FlightHeard *heard, GDestroyNotify forget)
{
    Flight *flight = g_new0(Flight, 1);

    flight->cli = cli;
    flight->multi = curl_multi_init();
    flight->heard = heard;
    flight->forget = forget;
    g_queue_init(&flight->going);
    return flight;
}

static void going_free(Flight *flight, Going *going)
{
    curl_multi_remove_handle(flight->multi, going->curl);
    curl_easy_cleanup(going->curl);
    g_string_free(going->bytes, TRUE);
    free(going->text);
    if (flight->forget != NULL && going->about != NULL) flight->forget(going->about);
    g_free(going);
}

static void move_on(Flight *flight)
{
    int running = 0, left = 0;
    CURLMsg *told;

    curl_multi_perform(flight->multi, &running);
    while ((told = curl_multi_info_read(flight->multi, &left)) != NULL) {
        Going *going = NULL;
        if (told->msg != CURLMSG_DONE) continue;
        curl_easy_getinfo(told->easy_handle, CURLINFO_PRIVATE, &going);
        going->over = true;
        going->result = told->data.result;
    }
}

static void hear(Flight *flight, Going *going)
{
    long status = 0;
    int code = exchange_over(flight->cli, going->curl, going->result, &status);
    json_t *answer =
        code == EXIT_OK ? exchange_answer(flight->cli, going->bytes, status, &code) : NULL;

    if (answer != NULL && flight->heard != NULL) flight->heard(answer, going->about);
    json_decref(answer);
    flight->code = code;
}

/* Waits until no more than so many are on their way; what is over is heard, in order. */
static void wait_for(Flight *flight, guint most)
{
    while (flight->going.length > 0) {
        Going *oldest = g_queue_peek_head(&flight->going);
        if (!oldest->over && flight->going.length <= most) return;
        if (!oldest->over) {
            curl_multi_poll(flight->multi, NULL, 0, WAIT_MS, NULL);
            move_on(flight);
            continue;
        }
        g_queue_pop_head(&flight->going);
        if (flight->code == EXIT_OK) hear(flight, oldest);
        going_free(flight, oldest);
    }
}

static void send_off(Flight *flight, Going *going, const char *url)
{
    flight->code = exchange_ready(flight->cli, going->curl, "POST", url, going->text, going->bytes);
    curl_easy_setopt(going->curl, CURLOPT_PRIVATE, going);
    if (flight->code != EXIT_OK) {
        going_free(flight, going);
        return;
    }
    curl_multi_add_handle(flight->multi, going->curl);
    g_queue_push_tail(&flight->going, going);
    move_on(flight); /* connects */
    move_on(flight); /* and sends what the socket takes */
}

int flight_post(Flight *flight, const char *path, json_t *body, void *about)
{
    if (body == NULL) flight->code = remote_no_text();
    Going *going = g_new0(Going, 1);
    g_autofree char *url = g_strconcat("http://osierd", path, NULL);

    going->about = about;
    going->text = json_dumps(body, JSON_COMPACT);
    going->bytes = g_string_new(NULL);
    going->curl = curl_easy_init();
    json_decref(body);
    wait_for(flight, CALLS_MAX - 1);
    if (flight->code == EXIT_OK)
        send_off(flight, going, url);
    else
        going_free(flight, going);
    return flight->code;
}

int flight_end(Flight *flight)
{
    wait_for(flight, 0);
    int code = flight->code;
    curl_multi_cleanup(flight->multi);
    g_free(flight);
    return code;
}
