/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/bench/bare.h"

#include <curl/curl.h>
#include <stdbool.h>
#include <stddef.h>

enum { AT_ONCE = 32 };

static const char message[] = "{\"to\":\"+447700900123\",\"text\":\"Calves today, two minutes each "
                              "side. Reply with a number.\"}";

static size_t swallow(char *data, size_t size, size_t count, void *context)
{
    (void)data;
    (void)context;
    return size * count;
}

static bool add_bare(BareRun *bench, CURLM *multi, CURL *easy)
{
    if (bench->left == 0) return false;
    bench->left--;
    return curl_multi_add_handle(multi, easy) == CURLM_OK;
}

static int collect_bare(BareRun *bench, CURLM *multi)
{
    int left, ended = 0;
    for (CURLMsg *news; (news = curl_multi_info_read(multi, &left)) != NULL; ended++) {
        CURL *easy = news->easy_handle;
        long status = 0;
        curl_easy_getinfo(easy, CURLINFO_RESPONSE_CODE, &status);
        if (status != 202) bench->failed++;
        curl_multi_remove_handle(multi, easy);
        add_bare(bench, multi, easy);
    }
    return ended;
}

void bare_run(int count, void *context)
{
    BareRun *bench = context;
    CURLM *multi = curl_multi_init();
    CURL *easies[AT_ONCE];
    struct curl_slist *headers = curl_slist_append(NULL, "Content-Type: application/json");
    bench->left = count;
    for (int i = 0; i < AT_ONCE; i++) {
        easies[i] = curl_easy_init();
        curl_easy_setopt(easies[i], CURLOPT_URL, bench->url);
        curl_easy_setopt(easies[i], CURLOPT_HTTPHEADER, headers);
        curl_easy_setopt(easies[i], CURLOPT_POSTFIELDS, message);
        curl_easy_setopt(easies[i], CURLOPT_WRITEFUNCTION, swallow);
        add_bare(bench, multi, easies[i]);
    }
    for (int ended = 0, running; ended < count; ended += collect_bare(bench, multi)) {
        curl_multi_poll(multi, NULL, 0, 1000, NULL);
        curl_multi_perform(multi, &running);
    }
    for (int i = 0; i < AT_ONCE; i++)
        curl_easy_cleanup(easies[i]);
    curl_multi_cleanup(multi);
    curl_slist_free_all(headers);
}
