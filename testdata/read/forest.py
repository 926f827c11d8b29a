"""Random forests by scikit-learn, trained on the second generator's runs.

Reads jobs from standard input as JSON, one a line: {"train": [[...]], "labels": [...],
"test": [[...]]}, a row a rep, and answers each by a line {"classes": [...],
"p": [[...]]}: for each row of test the probability of each class.
"""
import json
import sys

import numpy as np
from sklearn.ensemble import RandomForestClassifier

for line in sys.stdin:
    job = json.loads(line)
    forest = RandomForestClassifier(n_estimators=120, min_samples_leaf=2, random_state=1)
    forest.fit(np.array(job["train"], dtype=np.float32), np.array(job["labels"]))
    p = forest.predict_proba(np.array(job["test"], dtype=np.float32))
    json.dump({"classes": forest.classes_.tolist(), "p": p.round(5).tolist()}, sys.stdout)
    sys.stdout.write("\n")
    sys.stdout.flush()
