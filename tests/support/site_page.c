/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/site_page.h"

#include <curl/curl.h>
#include <string.h>

#include "tests/support/json_look.h"

#define HOST "page.clinic.example"
#define PASSWORD "several words make it long"
#define WELCOME "/#/welcome/"

void site_use_page(Site *site, int port)
{
    g_autofree char *path = g_build_filename(site->clinic, "clinic.yaml", NULL);
    g_autofree char *before = NULL;

    if (!g_file_get_contents(path, &before, NULL, NULL)) g_error("no settings in %s", path);
    g_autofree char *settings = g_strdup_printf(
        "%s\npage: {listen: \"127.0.0.1:%d\", url: \"" SITE_PAGE_URL "\"}\n", before, port);
    site_settings(site, settings);
}

static size_t drop(char *bytes, size_t size, size_t n, void *context)
{
    (void)bytes;
    (void)context;
    return size * n;
}

long site_page_get(int port, const char *link)
{
    const char *path = g_str_has_prefix(link, SITE_PAGE_URL) ? link + strlen(SITE_PAGE_URL) : link;
    g_autofree char *url = g_strdup_printf("http://127.0.0.1:%d%s", port, path);
    struct curl_slist *list = curl_slist_append(NULL, "Host: " HOST);
    CURL *curl = curl_easy_init();
    long status = 0;

    curl_easy_setopt(curl, CURLOPT_URL, url);
    curl_easy_setopt(curl, CURLOPT_HTTPHEADER, list);
    curl_easy_setopt(curl, CURLOPT_WRITEFUNCTION, drop);
    curl_easy_setopt(curl, CURLOPT_NOSIGNAL, 1L);
    curl_easy_setopt(curl, CURLOPT_TIMEOUT, 60L);
    if (curl_easy_perform(curl) == CURLE_OK)
        curl_easy_getinfo(curl, CURLINFO_RESPONSE_CODE, &status);
    curl_slist_free_all(list);
    curl_easy_cleanup(curl);
    return status;
}

static long post(int port, const char *path, const char *body)
{
    static const char *const LINES[] = {"Host: " HOST, "Origin: " SITE_PAGE_URL,
                                        "Content-Type: application/json", NULL};

    return site_post(port, path, LINES, body, strlen(body));
}

void site_page_welcome(Site *site, int port, const char *name)
{
    json_t *account = site_ask(site, "account add '%s' --role clinician", name);
    g_autofree char *link = look_copy(account, "link");
    const char *token = strstr(link, WELCOME);

    json_decref(account);
    g_assert_nonnull(token);
    while (site_page_get(port, "/") == 0) /* it listens once somebody may enter */
        json_decref(site_ask(site, "status"));
    g_autofree char *body = g_strdup_printf("{\"token\":\"%s\",\"password\":\"" PASSWORD "\"}",
                                            token + strlen(WELCOME));
    g_assert_cmpint(post(port, "/welcome", body), ==, 200);
}

long site_page_log_in(int port, const char *name)
{
    g_autofree char *body =
        g_strdup_printf("{\"name\":\"%s\",\"password\":\"" PASSWORD "\"}", name);

    return post(port, "/session", body);
}
